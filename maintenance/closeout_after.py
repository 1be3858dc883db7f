"""What follows an applied closeout: windows of that property computed again, the next visit proposed.

A failure here changes nothing of the closeout: the property stays stale and a sweep comes back to it.
"""

import logging
from dataclasses import replace

from django.db import transaction

from core.act import Act
from maintenance import propose, refresh

log = logging.getLogger(__name__)


def recompute(*, act: Act, property_id: int) -> bool:
    """Compute the property's windows and propose its next visit now. False where it failed and the sweep takes over.

    Call after the closeout's transaction. The server acts here, not the crew: proposing is not theirs.
    """
    server = replace(act, who="system:closeout", role="system", user_id=None, customer_id=None, name="closeout")
    try:
        with transaction.atomic():
            refresh.refresh_property(act=server, property_id=property_id)
        with transaction.atomic():
            propose.propose_visits(act=server, property_ids=[property_id])
    except Exception:
        # Any failure: the closeout is kept and applied, the property is marked stale by its revision.
        log.exception("could not compute property %s after a closeout", property_id)
        return False
    return True
