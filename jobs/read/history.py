"""The history of one object or one property, newest first, in pages."""

from dataclasses import dataclass
from uuid import UUID

from django.db.models import Exists, OuterRef, Q, QuerySet

from core.act import Act
from core.models import History
from jobs.read import visible

PAGE = 50
MOST = 200


@dataclass(frozen=True, slots=True)
class HistoryPage:
    """Entries newest first; `next_before` goes into the next call, None at the end."""

    entries: tuple[History, ...]
    next_before: int | None


def entries(act: Act) -> QuerySet[History]:
    """The entries this person may read: the office all, the crew those of properties it may see, homeowners none."""
    if act.is_office:
        return History.objects.all()
    if act.role != "crew":
        return History.objects.none()
    seen = visible.properties(act)
    own = Q(Exists(seen.filter(uid=OuterRef("property_uid")))) | Q(Exists(seen.filter(uid=OuterRef("object_uid"))))
    return History.objects.filter(own)


def of_object(act: Act, uid: UUID, *, before: int | None = None, size: int = PAGE) -> HistoryPage:
    """What happened to one object (its uid)."""
    return page(entries(act).filter(object_uid=uid), before=before, size=size)


def of_property(act: Act, uid: UUID, *, before: int | None = None, size: int = PAGE) -> HistoryPage:
    """What happened at one property: to itself and to everything there."""
    return page(entries(act).filter(Q(property_uid=uid) | Q(object_uid=uid)), before=before, size=size)


def page(rows: QuerySet[History], *, before: int | None, size: int) -> HistoryPage:
    """One page of `rows`; entries are only ever appended, so that a key is a safe place to go on from."""
    size = max(1, min(size, MOST))
    if before is not None:
        rows = rows.filter(pk__lt=before)
    found = list(rows.order_by("-id")[: size + 1])
    more = found[size - 1].pk if len(found) > size else None
    return HistoryPage(tuple(found[:size]), more)
