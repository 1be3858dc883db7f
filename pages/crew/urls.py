"""Addresses of the crew pages."""

from datetime import date

from django.urls import path, register_converter

from pages.crew import closeout, day, place, visit


class DayInPath:
    """A calendar day, ISO: 2026-05-04."""

    regex = r"\d{4}-\d{2}-\d{2}"

    def to_python(self, value: str) -> date:
        return date.fromisoformat(value)  # a ValueError is no match, so 404

    def to_url(self, value: date) -> str:
        return value.isoformat()


register_converter(DayInPath, "day")

urlpatterns = [
    path("crew/", day.today, name="crew_day"),
    path("crew/day/", day.pick, name="crew_pick"),
    path("crew/day/<day:day>/", day.on_date, name="crew_date"),
    path("crew/find/", day.find, name="crew_find"),
    path("crew/visits/<uuid:uid>/", visit.visit, name="crew_visit"),
    path("crew/visits/<uuid:uid>/begin/", visit.begin, name="crew_begin"),
    path("crew/visits/<uuid:uid>/gate-code/", visit.show_gate_code, name="crew_gate_code"),
    path("crew/visits/<uuid:uid>/closeout/", closeout.close, name="crew_closeout"),
    path("crew/properties/<uuid:uid>/", place.place, name="crew_property"),
]
