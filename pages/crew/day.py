"""The route sheet of a day, in driving order: hazards first, then what to do, what to bring, what was found before."""

from datetime import date, timedelta
from urllib.parse import quote

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from core.act import Act
from jobs.read import search, visible
from maintenance.decide.miles import drive_miles
from maintenance.read.route_sheet import Stop, route_sheet
from pages.acting import acting


@acting
def today(request: HttpRequest, act: Act) -> HttpResponse:
    """Today's sheet."""
    return _sheet(request, act, visible.today(act))


@acting
def on_date(request: HttpRequest, act: Act, day: date) -> HttpResponse:
    """Another day's sheet."""
    return _sheet(request, act, day)


@acting
def pick(request: HttpRequest, act: Act) -> HttpResponse:
    """From the date field to that day's address; nonsense leads to today."""
    try:
        day = date.fromisoformat(request.GET.get("day", ""))
    except ValueError:
        return redirect("pages:crew_day")
    return redirect("pages:crew_date", day=day)


@acting
def find(request: HttpRequest, act: Act) -> HttpResponse:
    """Properties this technician may see, by address, name, tag or phone."""
    text = request.GET.get("q", "")
    return render(request, "crew/find.html", {"q": text, "found": search.find(act, text, limit=30)})


def place_link(stop: Stop) -> str:
    """A geo: address (RFC 5870) that the phone opens with its own map, "" where the position is not known."""
    if stop.lat is None or stop.lon is None:
        return ""
    point = f"{stop.lat:.6f},{stop.lon:.6f}"
    return f"geo:{point}?q={point}({quote(stop.address)})"


def _sheet(request: HttpRequest, act: Act, day: date) -> HttpResponse:
    stops = route_sheet(act, request.user, day)  # type: ignore[arg-type]
    positions = [(s.lat, s.lon) if s.lat is not None and s.lon is not None else None for s in stops]
    context = {
        "day": day,
        "is_today": day == visible.today(act),
        "before": day - timedelta(days=1),
        "after": day + timedelta(days=1),
        "stops": [(stop, place_link(stop)) for stop in stops],
        "minutes": sum(stop.minutes for stop in stops),
        "miles": drive_miles(positions) if len(stops) > 1 else None,
        "bring": tuple(dict.fromkeys(item for stop in stops for item in stop.bring)),
    }
    return render(request, "crew/day.html", context)
