"""High-water alarm: says that the water in a basin stands too high."""

from typing import Literal

from jobs.kinds.base import Dimensions, Kind, Symbol, ask, choice, number, yes_no
from jobs.kinds.words import gettext_noop


class HighWaterAlarmDimensions(Dimensions):
    alarm_type: Literal["sounder", "message"] | None = choice(
        "Type",
        {"sounder": "sounds in the house", "message": "sends a message"},
        assumed="sounder",
        help="How it tells.",
    )
    trips_above_bottom_in: float | None = number(
        "Trips above the basin's bottom", "in", 1, 144, assumed=16, help="Water level that sets it off."
    )
    battery_backed: bool | None = yes_no("Own battery", help="It still sounds when the house has no current.")


KIND = Kind(
    code="high_water_alarm",
    version=1,
    name="high-water alarm",
    plural="high-water alarms",
    plain_words=gettext_noop("the alarm that sounds when the pit is too full"),
    tag_prefix="HA",
    dimensions=HighWaterAlarmDimensions,
    symbol=Symbol("mark", letters="HA"),
    tasks=("test_alarm", "replace"),
    readings=(ask("alarm_sounded", "test_alarm"), ask("note", "test_alarm", "replace")),
    checklist=(
        gettext_noop("Float lifted with a stick, not by hand in the water"),
        gettext_noop("Heard where people sleep; its own battery changed"),
    ),
    sits_in=frozenset({"sump_basin"}),
    wears=True,
)
