"""Moves one line of the week's day book: to another day, technician or place, the other lines numbered anew."""

from datetime import date

from django.db import transaction

from core.act import Act
from core.models import User
from core.problem import BadInput, FieldProblem
from maintenance import visits
from maintenance.models import Visit
from maintenance.read.route_sheet import driving_order
from maintenance.visit_change import office_only

MOST_IN_A_DAY = 40


def move_line(*, act: Act, visit: Visit, local_date: date, technician: User, place: int) -> Visit:
    """Put an agreed visit on `local_date` as number `place` of `technician`, who leads it then; others along stay.

    People are told where the day changes. The rest of that technician's day is numbered 1, 2, 3... around it, so that
    a place beyond the last means the last. Raises BadInput, Conflict.
    """
    office_only(act, "move a visit")
    if not 1 <= place <= MOST_IN_A_DAY:
        message = f"The number in the day is {place}: give 1 to {MOST_IN_A_DAY}."
        raise BadInput(message, fields=(FieldProblem("place", message, place),))
    with transaction.atomic():
        if local_date != visit.local_date:
            visits.move(
                act=act,
                visit=visit,
                local_date=local_date,
                local_start=visit.local_start,
                span_minutes=visit.span_minutes,
            )
        day = _others(visit, local_date, technician)
        day.insert(min(place - 1, len(day)), visit)
        for number, row in enumerate(day, start=1):
            if row.pk == visit.pk:
                visits.assign(act=act, visit=visit, users=_with_lead(visit, technician), place_in_day=number)
            elif row.place_in_day != number:
                visits.assign(act=act, visit=row, users=_going(row), place_in_day=number)
    visit.refresh_from_db()
    return visit


def _others(visit: Visit, day: date, technician: User) -> list[Visit]:
    states = (Visit.State.AGREED, Visit.State.BEGUN)
    rows = Visit.objects.filter(
        local_date=day, state__in=states, technicians__user=technician, technicians__lead=True
    ).exclude(pk=visit.pk)
    return sorted(rows.select_related("property"), key=driving_order)


def _going(visit: Visit) -> list[User]:
    return [row.user for row in visit.technicians.select_related("user").order_by("-lead", "id")]


def _with_lead(visit: Visit, technician: User) -> list[User]:
    along = visit.technicians.filter(lead=False).exclude(user=technician).select_related("user").order_by("id")
    return [technician, *(row.user for row in along)]
