"""Shows a gate code to the crew of a visit, one visit at a time, and writes down who saw it."""

from datetime import timedelta

from core.act import Act
from core.history import record_change
from core.problem import NotAllowed
from maintenance.models import Visit
from maintenance.visit_change import local_today
from maintenance.visit_people import check_crew_may

WITHIN = timedelta(days=1)


def show_gate_code(*, act: Act, visit: Visit) -> str:
    """The code of the visit's property, "" where there is none; each look is in the history, the code is not.

    For those on the visit, from the day before to the day after; the office always. Raises NotAllowed.
    """
    check_crew_may(act, visit)
    today = local_today(act, visit.property.zone)
    if not act.is_office and (visit.local_date is None or abs(visit.local_date - today) > WITHIN):
        raise NotAllowed("The gate code is shown from the day before the visit to the day after it.")
    record_change(
        act=act,
        noun="property",
        uid=visit.property.uid,
        action="gate_code_shown",
        after={"visit": str(visit.uid)},
        property_uid=visit.property.uid,
    )
    return visit.property.gate_code
