"""The week as a ruled day book: days down, a column a technician, numbered lines in driving order."""

from datetime import date, timedelta
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from core.act import Act
from core.models import User
from core.problem import BadInput
from maintenance import visits
from maintenance.read import due as due_read
from maintenance.read import visible
from maintenance.read.week import week as read_week
from pages.acting import acting, found


def _day(text: str, otherwise: date) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return otherwise


@acting
def week(request: HttpRequest, act: Act) -> HttpResponse:
    """The week that holds `?start=`, this week without it."""
    start = _day(request.GET.get("start", ""), due_read.today_of(act))
    book = read_week(act, start)
    context = {
        "week": book,
        "before": book.start - timedelta(days=7),
        "after": book.start + timedelta(days=7),
        "today": due_read.today_of(act),
        "technicians": User.objects.filter(role=User.Role.CREW, is_active=True).order_by("first_name", "id"),
    }
    return render(request, "office/desk/week.html", context)


@require_POST
@acting
def move_line(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """Move to another day, technician or place in the day. The homeowner is told where the day changes."""
    visit = found(visible.visits(act), uid=uid)
    day = _day(request.POST.get("day", ""), visit.local_date or due_read.today_of(act))
    wanted = request.POST.get("technician", "")
    user = next((u for u in User.objects.filter(role=User.Role.CREW) if str(u.uid) == wanted), None)
    if user is None:
        raise BadInput("Choose a technician.")
    place = request.POST.get("place", "")
    if not (place.isdecimal() and place.isascii() and 1 <= int(place) <= 40):
        raise BadInput(f"Place in the day is {place!r}: give a whole number from 1 to 40.")
    if day != visit.local_date:
        visit = visits.move(
            act=act, visit=visit, local_date=day, local_start=visit.local_start, span_minutes=visit.span_minutes
        )
    visits.assign(act=act, visit=visit, users=[user], place_in_day=int(place))
    messages.success(request, f"{visit.property.address}: {day:%A %-d %B}, {user.display_name}, number {place}.")
    return redirect(f"{reverse('pages:week')}?start={day}")
