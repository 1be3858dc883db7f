"""The company's settings as a form: each explained, with its unit; grouped as they are shown."""

from datetime import time
from typing import Any
from zoneinfo import available_timezones

from django import forms

from core.company import Company
from maintenance.models import Gauge

MONTHS = (
    (1, "January"),
    (2, "February"),
    (3, "March"),
    (4, "April"),
    (5, "May"),
    (6, "June"),
    (7, "July"),
    (8, "August"),
    (9, "September"),
    (10, "October"),
    (11, "November"),
    (12, "December"),
)

PARTS = (
    ("The company", ("name", "postal_address", "phone", "reply_to", "zone", "units", "utility_locate_phone")),
    ("The yard", ("yard_lat", "yard_lon", "day_start", "setup_minutes")),
    ("Visits and mail", ("propose_days", "answer_days", "send_time", "quiet_from", "quiet_until")),
    (
        "Weather of the region",
        (
            "gauge",
            "climate_mm",
            "leaf_months",
            "wet_season_month",
            "freezes",
            "freeze_month",
            "thaw_month",
        ),
    ),
    (
        "Chances accepted",
        ("tolerance_building", "tolerance_outdoor_room", "tolerance_lawn", "hidden_unavailability"),
    ),
    (
        "How silting is forecast",
        (
            "cycle_sd",
            "weather_cv",
            "basin_limit_fill",
            "wide_ratio",
            "lead_days",
            "first_look_days",
            "pool_least_parts",
            "pool_least_readings",
            "odd_times",
        ),
    ),
    (
        "How pumps wear",
        ("wear_calendar", "wear_hours", "wear_hours_per_year", "wear_starts", "wear_starts_per_year"),
    ),
)


def _time(label: str, told: str) -> forms.TimeField:
    widget = forms.TimeInput(format="%H:%M", attrs={"type": "time"})
    return forms.TimeField(label=label, help_text=told, widget=widget)


def _share(label: str, told: str) -> forms.FloatField:
    told = f"{told} Between 0 and 1: 0.05 is one chance in twenty."
    return forms.FloatField(label=label, help_text=told, min_value=0.001, max_value=0.999)


def _within(label: str, low: float, high: float, told: str) -> forms.FloatField:
    told = f"{told} {low:g} to {high:g}."
    return forms.FloatField(label=label, help_text=told, min_value=low, max_value=high)


def _count(label: str, low: int, high: int, told: str) -> forms.IntegerField:
    told = f"{told} {low} to {high}."
    return forms.IntegerField(label=label, help_text=told, min_value=low, max_value=high)


class CompanyForm(forms.Form):
    """Every setting of core.company; what is refused there comes back beside its field."""

    name = forms.CharField(label="Name", max_length=120, help_text="As homeowners see it in mails and calendars.")
    postal_address = forms.CharField(
        label="Postal address",
        required=False,
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Stands at the foot of every mail.",
    )
    phone = forms.CharField(label="Phone", required=False, max_length=40, help_text="For questions and other days.")
    reply_to = forms.EmailField(label="Replies go to", required=False, help_text="The mail address of the office.")
    zone = forms.ChoiceField(label="Time zone", help_text="Days of the company and of new properties.")
    units = forms.ChoiceField(
        label="Units on pages",
        choices=[("us", "US customary"), ("metric", "metric")],
        help_text="Files keep feet and inches.",
    )
    utility_locate_phone = forms.CharField(
        label="Utility-locate service", max_length=20, help_text="The number to call before digging."
    )
    yard_lat = forms.FloatField(
        label="Latitude of the yard [degrees]",
        required=False,
        min_value=-90,
        max_value=90,
        help_text="Where the vans start; empty: no miles to and from the yard are told.",
    )
    yard_lon = forms.FloatField(
        label="Longitude of the yard [degrees]",
        required=False,
        min_value=-180,
        max_value=180,
        help_text="West is negative.",
    )
    day_start = _time("The vans leave at", "Local time.")
    setup_minutes = forms.IntegerField(
        label="Set-up at each visit [min]",
        min_value=0,
        max_value=240,
        help_text="Added once to the minutes of the tasks: parking, talking, putting away.",
    )
    propose_days = forms.IntegerField(
        label="Propose visits ahead [days]",
        min_value=7,
        max_value=400,
        help_text="Tasks with a later best day open no visit.",
    )
    answer_days = forms.IntegerField(
        label="Days to answer an offer [days]",
        min_value=1,
        max_value=60,
        help_text="Then it goes to the calls to make.",
    )
    send_time = _time("Mails leave at", "Local time at the property.")
    quiet_from = _time("Quiet from", "No mail is sent in quiet hours.")
    quiet_until = _time("Quiet until", "Local time at the property.")
    gauge = forms.ChoiceField(
        label="Rain gauge in use",
        required=False,
        help_text="Its record drives silting and looks after storms.",
    )
    climate_mm = forms.CharField(
        label="Mean rain of each month [mm]",
        help_text="Twelve numbers from January, 0 to 1500 mm, separated by spaces. Used where the gauge has no record.",
    )
    leaf_months = forms.TypedMultipleChoiceField(
        label="Leaves fall in",
        choices=MONTHS,
        coerce=int,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="They load the inlets under trees.",
    )
    wet_season_month = forms.TypedChoiceField(
        label="Wet season begins in",
        choices=[("", "no wet season"), *MONTHS],
        coerce=int,
        empty_value=None,
        required=False,
        help_text="Pumps are tested before it.",
    )
    freezes = forms.BooleanField(
        label="The ground freezes here",
        required=False,
        help_text="Asks for draining and restarting lines.",
    )
    freeze_month = forms.TypedChoiceField(
        label="First frost in",
        choices=MONTHS,
        coerce=int,
        help_text="Only where it freezes.",
    )
    thaw_month = forms.TypedChoiceField(
        label="Thaw in",
        choices=MONTHS,
        coerce=int,
        help_text="Only where it freezes.",
    )
    tolerance_building = _share("Where water would enter a building", "Chance accepted that a part is past its limit.")
    tolerance_outdoor_room = _share("Where a finished outdoor room would get wet", "Chance accepted.")
    tolerance_lawn = _share("Where only a lawn or bed would", "Chance accepted.")
    hidden_unavailability = _share("Share of time a pump may be failed unseen", "Sets how often it is tested.")
    cycle_sd = forms.FloatField(
        label="Spread from cycle to cycle",
        min_value=0,
        max_value=2,
        help_text="Standard deviation of the log silting rate from one cleaning to the next; 0.2 is about a fifth.",
    )

    weather_cv = _within(
        "Spread of a year's rain", 0, 1, "Standard deviation over mean, 0.17 in two long records; 0 leaves it out."
    )
    basin_limit_fill = _within(
        "Limit of a catch basin [fill]", 0.125, 1, "No silt limit of a basin lies higher: past 0.6 it stops trapping."
    )
    wide_ratio = _within(
        "Look first from", 1, 100, "Where the high rate is this many times the low one, the crew looks before cleaning."
    )
    lead_days = _count("Best day before the latest [days]", 0, 90, "Room for rain and for moving a visit.")
    first_look_days = _count("First look within [days]", 14, 400, "For parts whose age and cleanings nobody knows.")
    pool_least_parts = _count("Parts a group needs", 5, 1000, "With fewer it keeps its rule of thumb.")
    pool_least_readings = _count("Readings a group needs", 10, 10_000, "With fewer it keeps its rule of thumb.")
    odd_times = _within(
        "Odd from", 2, 1000, "A part so many times faster or slower than similar ones is shown to a person."
    )
    wear_calendar = _within("Wear by age", 0.05, 1, "Equivalent years that one calendar year alone adds.")
    wear_hours = _within("Wear by run hours", 0, 1, "Equivalent years that a mean year's hours add.")
    wear_hours_per_year = _within("A mean year's run hours [h]", 1, 8766, "Of a pump in this region; an assumption.")
    wear_starts = _within("Wear by starts", 0, 1, "Equivalent years that a mean year's starts add.")
    wear_starts_per_year = _within("A mean year's starts", 1, 1_000_000, "Of a pump in this region; an assumption.")

    def __init__(self, *args: Any, **more: Any) -> None:
        super().__init__(*args, **more)
        zones = sorted(name for name in available_timezones() if "/" in name)
        fields: Any = self.fields
        fields["zone"].choices = [(name, name) for name in zones]
        gauges = list(Gauge.objects.values_list("name", flat=True))
        fields["gauge"].choices = [("", "none"), *((name, name) for name in gauges)]

    def parts(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The fields under their headings."""
        return [(words, [self[name] for name in names]) for words, names in PARTS]

    def clean_climate_mm(self) -> list[float]:
        """Twelve numbers."""
        texts = self.cleaned_data["climate_mm"].replace(",", " ").split()
        try:
            found = [float(text) for text in texts]
        except ValueError as error:
            raise forms.ValidationError("Give numbers separated by spaces, such as 80 75.5 90.") from error
        if len(found) != 12 or not all(0 <= value <= 1500 for value in found):
            raise forms.ValidationError(f"{len(found)} numbers given: give twelve, each 0 to 1500 mm.")
        return found

    def changed(self, before: Company) -> dict[str, Any]:
        """The settings that differ from those in force, as core.company.change takes them."""
        was = before.model_dump()
        given = {name: self.cleaned_data[name] for _, names in PARTS for name in names}
        return {name: _plain(value) for name, value in given.items() if value != was[name]}


def first_values(now: Company) -> dict[str, Any]:
    """What the form shows first."""
    return {**now.model_dump(), "climate_mm": " ".join(f"{value:g}" for value in now.climate_mm)}


def _plain(value: Any) -> Any:
    return value.isoformat(timespec="minutes") if isinstance(value, time) else value
