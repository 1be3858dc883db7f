"""What people wrote about a visit, and who goes there."""

from uuid import UUID

from core.act import Act
from maintenance.models import CallToMake, VisitTechnician


def of_visit(visit_uid: UUID) -> tuple[str, ...]:
    """Words a homeowner sent about this visit or asked another day with, oldest first; ask for a visible visit only."""
    reasons = (CallToMake.Reason.TOLD_US, CallToMake.Reason.ANOTHER_DAY)
    rows = CallToMake.objects.filter(visit__uid=visit_uid, reason__in=reasons).exclude(note="")
    return tuple(rows.order_by("since", "id").values_list("note", flat=True)[:10])


def goes_there(act: Act, visit_uid: UUID) -> bool:
    """Whether the one who asks is on this visit."""
    return VisitTechnician.objects.filter(visit__uid=visit_uid, user_id=act.user_id or 0).exists()
