"""Days of rain from gauge rows, and the storms looks hang on."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from maintenance import storm_looks
from maintenance.forecast.records import Rule, Storm, StormNumbers

DAY = date(2026, 5, 4)
RULE = Rule("storm_look", "channel_run", "look", "storm", "firm", StormNumbers(), 15, "crew", "words", "assumption")


def test_hours_add_up_to_their_day_and_a_whole_day_row_counts_before_them() -> None:
    rows = [(DAY, hour, 1.5) for hour in range(24)]
    assert storm_looks.daily_rain(rows) == {DAY: 36.0}
    assert storm_looks.daily_rain([*rows, (DAY, -1, 30.0)]) == {DAY: 30.0}


def test_the_row_recorded_last_counts() -> None:
    assert storm_looks.daily_rain([(DAY, -1, 30.0), (DAY, -1, 3.0)]) == {DAY: 3.0}


@pytest.mark.parametrize(("hours", "known"), [(24, True), (23, True), (22, False)])
def test_a_day_that_lacks_hours_is_a_gap(hours: int, known: bool) -> None:
    assert (DAY in storm_looks.daily_rain([(DAY, hour, 0.0) for hour in range(hours)])) is known


def test_the_least_rain_any_storm_rule_asks_for() -> None:
    lower = replace(RULE, property_id=3, numbers=StormNumbers(least_daily_rain_mm=12.0))
    assert storm_looks.least_rain_mm([RULE, lower]) == 12.0
    assert storm_looks.least_rain_mm([RULE, replace(lower, enabled=False)]) == 25.4
    assert storm_looks.least_rain_mm([]) is None


def test_storms_are_the_wet_days_up_to_the_day_asked_for() -> None:
    rain = {DAY - timedelta(days=n): mm for n, mm in ((-1, 80.0), (0, 30.0), (3, 10.0), (40, 60.0), (400, 90.0))}
    found = storm_looks.storms(rain, property_ids=[2, 1], as_of=DAY, least_mm=25.4)
    wet = [(DAY - timedelta(days=40), 60.0), (DAY, 30.0)]
    assert found == tuple(Storm(key, day, mm) for key in (1, 2) for day, mm in wet)
    assert storm_looks.storms(rain, property_ids=[1], as_of=DAY, least_mm=None) == ()
