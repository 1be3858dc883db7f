"""Odd readings are shown to a person, all of them kept."""

from datetime import date

from maintenance.forecast.oddities import ODD_WORDS, odd_readings
from maintenance.forecast.reasons import told
from maintenance.forecast.records import ForecastSettings, Readings
from maintenance.forecast.silt_states import silt_states
from tests.maintenance.forecast.kit import SEASONS, basin, cleaned, graded, measured

FIRST, SECOND = date(2025, 6, 1), date(2025, 12, 1)


def _odd(parts, rows):
    states = silt_states(parts, Readings.from_rows(rows), SEASONS, ForecastSettings())
    found = odd_readings(states)
    for one in found:
        assert ODD_WORDS[one.reason.code] % told(one.reason)
    return [(one.component_id, one.reason.code) for one in found]


def test_fill_that_falls_without_a_cleaning():
    rows = [measured(1, FIRST, 6.0), measured(1, SECOND, 2.0)]
    assert _odd([basin()], rows) == [(1, "fill_fell")]
    assert _odd([basin(cleanings=cleaned(date(2025, 8, 1)))], rows) == []
    assert _odd([basin()], [measured(1, FIRST, 6.0), measured(1, SECOND, 5.0)]) == []


def test_grades_that_may_overlap_are_not_odd():
    assert _odd([basin()], [graded(1, FIRST, 2), graded(1, SECOND, 1)]) == []
    assert _odd([basin()], [graded(1, FIRST, 3), graded(1, SECOND, 0)]) == [(1, "fill_fell")]


def test_depth_above_the_part():
    assert (1, "above_the_part") in _odd([basin()], [measured(1, FIRST, 13.0)])


def test_ten_times_similar_parts():
    part = basin(kind="gravity_pipe", installed_on=date(2025, 1, 1), silt_height_in=4.0)
    rows = [measured(1, date(2025, 3, 1), 3.5), measured(1, date(2025, 3, 20), 3.9), measured(1, date(2025, 4, 1), 4.0)]
    assert _odd([part], rows) == [(1, "unlike_similar")]


def test_a_sound_part_is_not_odd():
    assert _odd([basin()], [measured(1, FIRST, 3.0), measured(1, SECOND, 5.0)]) == []
