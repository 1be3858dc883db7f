"""The week as a ruled day book: days down, a column a technician, numbered lines in driving order."""

from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse

from core.act import Act
from core.models import User
from core.problem import Problem
from maintenance import week_moves
from maintenance.models import Visit
from maintenance.read import due as due_read
from maintenance.read import visible
from maintenance.read.day_book import day_book
from pages.acting import acting, found
from pages.office.desk.problems import tell


class MoveForm(forms.Form):
    """Where a line goes."""

    day = forms.DateField(label="Day", widget=forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}))
    technician = forms.ModelChoiceField(User.objects.none(), to_field_name="uid", label="Technician", empty_label=None)
    place = forms.IntegerField(
        label="Number in the day",
        min_value=1,
        max_value=week_moves.MOST_IN_A_DAY,
        help_text="The rest of the day is numbered around it. The homeowner is told if the day changes.",
    )

    def __init__(self, *args, **more) -> None:
        super().__init__(*args, **more)
        technician: Any = self.fields["technician"]
        technician.queryset = technicians()
        technician.label_from_instance = lambda user: user.display_name


def technicians():
    """Who may be sent, by name."""
    return User.objects.filter(role=User.Role.CREW, is_active=True).order_by("first_name", "id")


@acting
def week(request: HttpRequest, act: Act) -> HttpResponse:
    """The week that holds `?start=`, this week without it."""
    today = due_read.today_of(act)
    book = day_book(act, _day(request.GET.get("start", ""), today))
    context = {
        "week": book.week,
        "days": book.days,
        "before": book.week.start - timedelta(days=7),
        "after": book.week.start + timedelta(days=7),
        "today": today,
        "technicians": list(technicians()),
    }
    return render(request, "office/desk/week.html", context)


@acting
def move_line(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """Move to another day, technician or place in the day; what is wrong comes back in a form of its own."""
    visit: Visit = found(visible.visits(act).select_related("property"), uid=uid)
    form = MoveForm(request.POST)
    if form.is_valid():
        day, user, place = (form.cleaned_data[name] for name in ("day", "technician", "place"))
        try:
            visit = week_moves.move_line(act=act, visit=visit, local_date=day, technician=user, place=place)
        except Problem as problem:
            tell(form, problem, local_date="day")
        else:
            where = f"{day:%A %-d %B}, {user.display_name}, number {visit.place_in_day}"
            messages.success(request, f"{visit.property.address}: {where}.")
            return redirect(f"{reverse('pages:week')}?start={day}")
    return render(request, "office/desk/move.html", {"form": form, "visit": visit}, status=422)


def _day(text: str, otherwise: date) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return otherwise
