"""Looks after storms: one a property in 30 days, more storms add to the reason, visits close, silt dates stay."""

from dataclasses import replace
from datetime import date

import pytest

from maintenance.forecast.records import Done, SiltNumbers, Storm, StormNumbers
from tests.maintenance.forecast.kit import basin, graded, rule, windows

LOOK = rule("after_storm", StormNumbers(), task="look")
FEB_3 = Storm(1, date(2026, 2, 3), 40.0)


def _looks(storms, *, rules=(LOOK,), parts=None, rows=None, as_of=date(2026, 3, 1)):
    return windows(list(rules), parts or [basin()], rows, storms=tuple(storms), as_of=as_of)


def test_a_look_within_seven_days():
    (window,) = _looks([FEB_3])
    assert (window.earliest_useful, window.best, window.latest) == (
        date(2026, 2, 4),
        date(2026, 2, 5),
        date(2026, 2, 10),
    )
    assert [reason.code for reason in window.reasons] == ["storm"]


def test_another_storm_adds_to_the_reason_of_the_open_look():
    more = [FEB_3, Storm(1, date(2026, 2, 8), 30.0), Storm(1, date(2026, 2, 20), 60.0)]
    (window,) = _looks(more)
    assert window.latest == date(2026, 2, 10)
    assert [reason.code for reason in window.reasons] == ["storm", "storm_more", "storm_more"]


def test_one_look_in_thirty_days_even_after_a_visit():
    seen = [basin(done=(Done("clean", date(2026, 2, 6)),))]
    assert _looks([FEB_3, Storm(1, date(2026, 2, 20), 60.0)], parts=seen) == []
    (later,) = _looks([FEB_3, Storm(1, date(2026, 3, 5), 60.0)], parts=seen, as_of=date(2026, 3, 6))
    assert later.latest == date(2026, 3, 12)


@pytest.mark.parametrize(
    ("visit", "open_"),
    [(date(2026, 2, 3), True), (date(2026, 2, 4), False), (date(2026, 3, 5), False), (date(2026, 3, 6), True)],
)
def test_any_visit_within_thirty_days_closes_it(visit, open_):
    part = basin(done=(Done("clean", visit),))
    assert bool(_looks([FEB_3], parts=[part], as_of=date(2026, 3, 20))) is open_


def test_the_look_itself_closes_it_however_late():
    part = basin(done=(Done("look", date(2026, 3, 10)),))
    assert _looks([FEB_3], parts=[part], as_of=date(2026, 3, 11)) == []


def test_a_reading_by_the_crew_is_a_visit_and_an_owners_is_not():
    assert _looks([FEB_3], rows=[graded(1, date(2026, 2, 6), 1)]) == []
    assert len(_looks([FEB_3], rows=[graded(1, date(2026, 2, 6), 1, owner=True)])) == 1


def test_small_storms_are_skipped_by_rating_where_known_else_by_rain():
    day = date(2026, 2, 3)
    assert _looks([Storm(1, day, 25.3)]) == []
    assert len(_looks([Storm(1, day, 25.4)])) == 1
    assert _looks([Storm(1, day, 90.0, share_of_rating=0.49)]) == []
    assert len(_looks([Storm(1, day, 5.0, share_of_rating=0.5)])) == 1


def test_storms_elsewhere_or_to_come_ask_nothing():
    assert _looks([replace(FEB_3, property_id=2)]) == []
    assert _looks([replace(FEB_3, on=date(2026, 3, 2))]) == []


def test_a_look_nobody_took_is_forgotten_and_a_new_storm_starts_afresh():
    assert _looks([FEB_3], as_of=date(2026, 4, 11))
    assert _looks([FEB_3], as_of=date(2026, 4, 12)) == []
    (fresh,) = _looks([FEB_3, Storm(1, date(2026, 4, 20), 50.0)], as_of=date(2026, 4, 21))
    assert fresh.latest == date(2026, 4, 27)


def test_a_storm_never_shifts_a_silt_date():
    silt = rule("silt", SiltNumbers(0.5))
    without = windows([silt], [basin()])
    found = _looks([FEB_3], rules=(silt, LOOK))
    assert [w for w in found if w.basis == "silt"] == without
