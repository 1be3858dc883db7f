"""Due windows: which rule governs, what the dates follow from, and that nothing else changes them."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from maintenance.forecast.days import day_number
from maintenance.forecast.records import (
    CalendarNumbers,
    Done,
    ForecastSettings,
    Readings,
    SeasonNumbers,
    SiltNumbers,
    WearNumbers,
    WearState,
)
from maintenance.forecast.season import Curve, Season, climate_of, gauge_record
from maintenance.forecast.silt_states import silt_states
from maintenance.forecast.silting import chance_over
from maintenance.forecast.wear import chance_of_failure, mean_unavailability, scale_of_median
from tests.maintenance.forecast.kit import AS_OF, CLIMATE, SEASONS, basin, cleaned, graded, measured, rule, windows

SILT = rule("silt", SiltNumbers(0.5))
YEARLY = rule("yearly", CalendarNumbers(12), firmness="fallback")
HALF_YEARLY = rule("half_yearly", CalendarNumbers(6), firmness="fallback")
FIRM = rule("by_agreement", CalendarNumbers(3))
C1, C2, C3 = date(2024, 9, 1), date(2025, 3, 1), date(2025, 9, 1)

# Two cycles, each ended by a cleaning that found 3 in of 12: a slow and well known basin.
SLOW = basin(cleanings=cleaned(C1, C2, C3), done=(Done("clean", C3),))
SLOW_ROWS = [measured(1, C2, 3.0), measured(1, C3, 3.0)]


def _only(found):
    assert len(found) == 1, [w.rule_id for w in found]
    return found[0]


def _codes(window):
    return [reason.code for reason in window.reasons]


# --- silt ----------------------------------------------------------------------------------------------------------


def test_latest_is_the_day_the_chance_reaches_the_tolerance():
    window = _only(windows([SILT], [SLOW], SLOW_ROWS))
    states = silt_states([SLOW], Readings.from_rows(SLOW_ROWS), SEASONS, ForecastSettings(cycle_sd=0.0))
    curve, weather = states.curves[0], states.weather(0.17)

    def chance(day):
        time = curve.exposure(states.start, np.array([float(day.toordinal())]))
        return float(chance_over(states.rate, states.fill_left, time, np.array([0.5]), weather)[0])

    assert chance(window.latest) <= 0.20 < chance(window.latest + timedelta(days=1))
    assert window.chance_over_at_best == pytest.approx(chance(window.best), rel=1e-5)


def test_earliest_useful_is_when_the_median_reaches_half_the_threshold():
    window = _only(windows([SILT], [SLOW], SLOW_ROWS))
    states = silt_states([SLOW], Readings.from_rows(SLOW_ROWS), SEASONS, ForecastSettings(cycle_sd=0.0))
    rate = float(states.rate.quantile(0.5)[0])

    def fill(day):
        return rate * float(states.exposure(np.array([0]), np.array([float(day.toordinal())]))[0])

    half_way = fill(window.earliest_useful) >= 0.25 > fill(window.earliest_useful - timedelta(days=1))
    assert half_way or window.earliest_useful == window.latest - timedelta(days=21)
    assert (window.latest - window.earliest_useful).days >= 21
    assert window.best == max(window.earliest_useful, window.latest - timedelta(days=14))


def test_a_stricter_tolerance_is_earlier():
    by_place = {
        place: _only(windows([SILT], [replace(SLOW, consequence=place)], SLOW_ROWS)).latest
        for place in ("building", "outdoor_room", "lawn")
    }
    assert by_place["building"] < by_place["outdoor_room"] < by_place["lawn"]


def test_twice_the_silt_is_earlier_and_half_is_later():
    usual = _only(windows([SILT], [SLOW], [*SLOW_ROWS, measured(1, date(2026, 2, 1), 2.0)]))
    twice = _only(windows([SILT], [SLOW], [*SLOW_ROWS, measured(1, date(2026, 2, 1), 4.0)]))
    half = _only(windows([SILT], [SLOW], [*SLOW_ROWS, measured(1, date(2026, 2, 1), 1.0)]))
    assert twice.latest < usual.latest < half.latest
    assert "last_reading" in _codes(twice)


def test_silt_left_behind_brings_the_day_forward():
    left = replace(SLOW, cleanings=(*cleaned(C1, C2), *cleaned(C3, left=0.2)))
    assert _only(windows([SILT], [left], SLOW_ROWS)).latest < _only(windows([SILT], [SLOW], SLOW_ROWS)).latest
    over = replace(SLOW, cleanings=(*cleaned(C1, C2), *cleaned(C3, left=0.55)))
    window = _only(windows([SILT], [over], SLOW_ROWS))
    assert window.latest == C3
    assert "silt_left_over" in _codes(window)


def test_wide_spread_asks_to_look_first_and_a_known_rate_does_not():
    young = basin(cleanings=cleaned(C3))
    assert _only(windows([SILT], [young])).look_first
    assert "look_first" in _codes(_only(windows([SILT], [young])))
    assert not _only(windows([SILT], [SLOW], SLOW_ROWS)).look_first


def test_heavier_trees_are_sooner():
    days = [_only(windows([SILT], [basin(canopy=c)])).latest for c in ("open", "some", "heavy")]
    assert days == sorted(days, reverse=True)


def test_a_part_of_unknown_age_asks_for_a_first_look_within_90_days():
    window = _only(windows([SILT], [basin(installed_on=None, known_since=date(2026, 2, 1))]))
    assert window.latest == date(2026, 2, 1) + timedelta(days=90)
    assert window.look_first
    assert window.chance_over_at_best is None
    assert _codes(window) == ["first_look"]


def test_after_that_look_the_curve_starts_from_what_it_found():
    part = basin(installed_on=None, known_since=date(2026, 1, 1))
    window = _only(windows([SILT], [part], [measured(1, date(2026, 2, 1), 3.0)]))
    assert "from_first_look" in _codes(window)
    assert dict(window.inputs)["fill_left"] == 0.25
    judged = _only(windows([SILT], [part], [graded(1, date(2026, 2, 1), 1)]))
    assert dict(judged.inputs)["fill_left"] == 0.25  # the middle of an eighth to three eighths


def test_found_at_its_limit_and_left_so_is_due_since_that_day():
    found = date(2026, 2, 1)
    window = _only(windows([SILT], [basin(consequence="lawn")], [measured(1, found, 6.0)]))
    assert window.latest <= found
    assert "found_over" in _codes(window)
    under = _only(windows([SILT], [basin(consequence="lawn")], [measured(1, found, 5.9)]))
    assert "found_over" not in _codes(under)


def test_an_owners_look_alone_makes_nothing_due_at_once():
    rows = [graded(1, date(2026, 2, 1), 4, owner=True)]
    assert "found_over" not in _codes(_only(windows([SILT], [SLOW], [*SLOW_ROWS, *rows])))


def test_a_pumped_sump_silted_to_the_intake_is_due_now():
    sump = basin(kind="sump_basin", pumped=True, silt_height_in=4.0)
    silt = rule("sump", SiltNumbers(0.5), kind="sump_basin", needs_pump=True)
    found = date(2026, 2, 10)
    window = _only(windows([silt], [sump], [measured(1, found, 4.0)]))
    assert _codes(window)[0] == "pump_at_risk"
    assert window.latest <= found
    forgotten = _only(windows([silt], [replace(sump, installed_on=date(2010, 1, 1))]))
    assert _codes(forgotten)[0] == "pump_at_risk"
    assert forgotten.latest < AS_OF
    assert windows([silt], [replace(sump, pumped=False)]) == []


def test_measured_depth_without_a_known_height_is_told_not_used():
    window = _only(windows([SILT], [basin(silt_height_in=None)], [measured(1, date(2026, 2, 1), 3.0)]))
    assert "no_height" in _codes(window)
    assert dict(window.inputs)["readings"] == 0


def test_a_grade_beside_a_measured_depth_teaches_nothing_more():
    both = [measured(1, date(2026, 2, 1), 3.0), graded(1, date(2026, 2, 1), 1)]
    assert windows([SILT], [basin()], both) == windows([SILT], [basin()], both[:1])


def test_gaps_in_the_rain_record_are_told():
    rain = np.full(500, 80 * 12 / 365)
    rain[30:60] = np.nan
    gauge = gauge_record("yard", np.arange(500) + date(2024, 9, 1).toordinal(), rain)
    window = _only(windows([SILT], [basin(cleanings=cleaned(C1))], seasons={"": Season(CLIMATE, (gauge,))}))
    assert "rain_gaps" in _codes(window)


def test_a_wet_half_year_brings_the_day_forward():
    days = np.arange(200) + date(2025, 8, 1).toordinal()
    wet = Season(CLIMATE, (gauge_record("yard", days, np.full(200, 8.0)),))
    dry = Season(CLIMATE, (gauge_record("yard", days, np.full(200, 0.5)),))
    soon = _only(windows([SILT], [SLOW], SLOW_ROWS, seasons={"": wet}))
    late = _only(windows([SILT], [SLOW], SLOW_ROWS, seasons={"": dry}))
    assert soon.latest < late.latest


# --- order of rules ------------------------------------------------------------------------------------------------


def test_a_fallback_rule_holds_until_two_cycles_have_spoken():
    one_cycle = replace(SLOW, cleanings=cleaned(C3))
    rows = [measured(1, date(2025, 12, 1), 1.0), measured(1, date(2026, 2, 1), 1.5)]
    window = _only(windows([SILT, HALF_YEARLY], [one_cycle], rows))
    assert window.rule_id == "half_yearly"
    assert "fallback_until" in _codes(window)


def test_then_silt_decides_later_or_sooner():
    silt_alone = _only(windows([SILT], [SLOW], SLOW_ROWS))
    decided = _only(windows([SILT, HALF_YEARLY], [SLOW], SLOW_ROWS))
    assert decided.rule_id == "silt"
    assert decided.latest == silt_alone.latest
    assert decided.latest > date(2026, 3, 1)  # later than half a year after the last cleaning
    assert "fallback_stopped" in _codes(decided)
    fast_rows = [measured(1, C2, 9.0), measured(1, C3, 9.0)]
    fast = _only(windows([SILT, HALF_YEARLY], [SLOW], fast_rows))
    assert fast.rule_id == "silt"
    assert fast.latest < date(2026, 3, 1)


def test_a_firm_rule_holds_whatever_the_silt_says():
    window = _only(windows([SILT, FIRM, HALF_YEARLY], [SLOW], SLOW_ROWS))
    assert window.rule_id == "by_agreement"
    assert window.latest == date(2025, 12, 1)
    assert "firm" in _codes(window)


def test_silt_sooner_than_a_firm_rule_governs():
    slack = rule("five_years", CalendarNumbers(60))
    assert _only(windows([SILT, slack], [SLOW], SLOW_ROWS)).rule_id == "silt"


def test_a_fallback_rule_without_a_silt_rule_never_stops():
    assert _only(windows([HALF_YEARLY], [SLOW], SLOW_ROWS)).rule_id == "half_yearly"


def test_a_known_part_needs_no_fallback_look_either():
    look = rule("look", CalendarNumbers(6), task="look", firmness="fallback")
    assert [w.task for w in windows([SILT, look], [SLOW], SLOW_ROWS)] == ["clean"]
    assert [w.task for w in windows([SILT, look], [basin()])] == ["clean", "look"]


def test_two_readings_of_one_cycle_are_not_two_cycles():
    rows = [measured(1, date(2025, 10, 1), 1.0), measured(1, date(2026, 2, 1), 1.5)]
    assert _only(windows([SILT, HALF_YEARLY], [SLOW], rows)).rule_id == "half_yearly"


def test_a_reading_at_the_time_of_a_cleaning_belongs_to_the_cycle_before():
    part = basin(cleanings=cleaned(C1, C2))
    at_cleaning = (1, day_number(C2) + 0.9, 3.0, 0.125, -1, False)
    states = silt_states([part], Readings.from_rows([at_cleaning]), SEASONS, ForecastSettings())
    assert states.last_row[0] == -1
    assert states.rate.readings[0] == 1


def test_overrides_of_a_property_and_a_component():
    parts = [basin(1), basin(2), basin(3, property_id=2)]
    rules = [
        YEARLY,
        replace(YEARLY, numbers=CalendarNumbers(9), property_id=1),
        replace(YEARLY, numbers=CalendarNumbers(4), component_id=2, property_id=1),
    ]
    latest = {w.component_id: w.latest for w in windows(rules, parts)}
    assert latest == {1: date(2024, 10, 1), 2: date(2024, 5, 1), 3: date(2025, 1, 1)}
    off = [*rules, replace(YEARLY, enabled=False, component_id=3)]
    assert {w.component_id for w in windows(off, parts)} == {1, 2}


def test_crew_and_owner_have_windows_of_their_own():
    owner = rule("owner", CalendarNumbers(1), task="look", who="owner")
    crew = rule("crew", CalendarNumbers(12), task="look")
    assert [(w.task, w.who) for w in windows([owner, crew], [basin()])] == [("look", "crew"), ("look", "owner")]


def test_rules_of_other_kinds_are_not_asked():
    assert windows([replace(YEARLY, kind="channel_run")], [basin()]) == []


# --- calendar and season -------------------------------------------------------------------------------------------


def test_calendar_counts_from_the_last_time_then_from_the_install_then_from_the_register():
    done = _only(windows([YEARLY], [basin(done=(Done("clean", date(2025, 5, 31)), Done("look", AS_OF)))]))
    assert (done.latest, _codes(done)[0]) == (date(2026, 5, 31), "calendar")
    new = _only(windows([YEARLY], [basin(installed_on=date(2025, 8, 15))]))
    assert (new.latest, _codes(new)[0]) == (date(2026, 8, 15), "calendar_installed")
    unknown = _only(windows([YEARLY], [basin(installed_on=None, known_since=date(2026, 2, 1))]))
    assert (unknown.latest, _codes(unknown)[0]) == (date(2026, 5, 2), "calendar_unknown")


def test_a_task_that_counts_as_another_moves_it():
    look = rule("look", CalendarNumbers(6), task="look", also_done_by=("clean",))
    window = _only(windows([look], [basin(done=(Done("clean", date(2026, 1, 10)),))]))
    assert window.latest == date(2026, 7, 10)


WET = rule("wet", SeasonNumbers("wet_season", -84, 0), kind="pump", task="test_pump")


def _pump(**more):
    return basin(kind="pump", watched_for_silt=False, silt_height_in=None, **more)


def test_pumps_are_tested_in_the_twelve_weeks_before_the_wet_season():
    window = _only(windows([WET], [_pump()], as_of=date(2026, 5, 1)))
    assert (window.earliest_useful, window.latest) == (date(2026, 8, 9), date(2026, 11, 1))
    assert window.chance_over_at_best is None


def test_a_kept_window_gives_way_to_next_years():
    tested = _pump(done=(Done("test_pump", date(2026, 9, 1)),))
    assert _only(windows([WET], [tested], as_of=date(2026, 9, 2))).latest == date(2027, 11, 1)
    too_early = _pump(done=(Done("test_pump", date(2026, 8, 8)),))
    assert _only(windows([WET], [too_early], as_of=date(2026, 9, 2))).latest == date(2026, 11, 1)


def test_a_missed_window_stays_due_for_its_grace():
    assert _only(windows([WET], [_pump()], as_of=date(2026, 12, 31))).latest == date(2026, 11, 1)
    assert _only(windows([WET], [_pump()], as_of=date(2027, 1, 1))).latest == date(2027, 11, 1)


def test_a_pump_put_in_since_the_window_opened_was_tested_then():
    new = _pump(installed_on=date(2026, 9, 15))
    assert _only(windows([WET], [new], as_of=date(2026, 10, 1))).latest == date(2027, 11, 1)


def test_freezing_tasks_are_off_where_it_does_not_freeze():
    frost = rule("frost", SeasonNumbers("freeze", -42, 0), kind="discharge_line", task="drain_for_frost")
    thaw = rule("thaw", SeasonNumbers("thaw", 0, 28), kind="discharge_line", task="restart")
    line = basin(kind="discharge_line", watched_for_silt=False)
    found = windows([frost, thaw], [line], as_of=date(2026, 2, 1))
    assert {w.task: w.latest for w in found} == {"drain_for_frost": date(2026, 12, 1), "restart": date(2026, 3, 29)}
    mild = {"": Season(climate_of([80.0] * 12, wet_season_month=11))}
    assert windows([frost, thaw], [line], seasons=mild) == []


def test_channels_after_leaf_fall_and_tasks_of_a_fixed_date():
    leaves = rule("leaves", SeasonNumbers("leaf_fall", 0, 42), kind="channel_run", firmness="fallback")
    fixed = rule("fixed", SeasonNumbers("date", -10, 5, month=6, day=15), kind="channel_run", task="look")
    found = windows([leaves, fixed], [basin(kind="channel_run")], as_of=date(2026, 4, 20))
    dates = {w.task: (w.earliest_useful, w.latest) for w in found}
    assert dates == {
        "clean": (date(2027, 1, 1), date(2027, 2, 12)),
        "look": (date(2026, 6, 5), date(2026, 6, 20)),
    }


# --- wear ----------------------------------------------------------------------------------------------------------

TEST = rule("life", WearNumbers("test", 10.0, 3.0), kind="pump", task="test_pump")
REPLACE = rule("swap", WearNumbers("replace", 10.0, 3.0, cost_ratio=5.0), kind="pump", task="replace")


def test_a_hidden_failure_is_tested_at_the_accepted_unavailability():
    part = _pump(installed_on=date(2020, 1, 1), done=(Done("test_pump", date(2025, 1, 1)),))
    window = _only(windows([TEST], [part]))
    scale = scale_of_median(10.0, 3.0)
    span = (window.latest - date(2025, 1, 1)).days / 365.2425
    age = dict(window.inputs)["age_at_last_test"]
    assert age == pytest.approx(5.0, abs=0.01)
    assert mean_unavailability(span, 3.0, scale, age) == pytest.approx(0.05, abs=2e-4)
    to_best = (window.best - date(2025, 1, 1)).days / 365.2425
    assert window.chance_over_at_best == pytest.approx(chance_of_failure(age, to_best, 3.0, scale), abs=1e-5)


def test_older_pumps_are_tested_more_often_and_hard_worked_ones_too():
    spans = []
    for installed in (date(2025, 1, 1), date(2020, 1, 1), date(2012, 1, 1)):
        part = _pump(installed_on=installed, done=(Done("test_pump", date(2026, 1, 1)),))
        spans.append(_only(windows([TEST], [part])).latest)
    assert spans == sorted(spans, reverse=True)
    worked = _pump(
        installed_on=date(2020, 1, 1),
        done=(Done("test_pump", date(2026, 1, 1)),),
        wear=WearState(equivalent_age_years=12.0, wear_per_year=2.0),
    )
    assert _only(windows([TEST], [worked])).latest < spans[1]


def test_replacing_falls_on_the_age_of_least_cost_and_does_not_drift():
    part = _pump(installed_on=date(2020, 1, 1))
    window = _only(windows([REPLACE], [part]))
    # Barlow & Hunter 1960, shape 3, failure 5 times planned: 0.50261 of the scale.
    years = 0.50261 * scale_of_median(10.0, 3.0)
    assert (window.latest - date(2020, 1, 1)).days == pytest.approx(years * 365.2425, abs=1.5)
    assert _only(windows([REPLACE], [part], as_of=date(2027, 1, 1))).latest == window.latest
    random = replace(REPLACE, numbers=WearNumbers("replace", 10.0, 1.0))
    assert windows([random], [part]) == []


def test_wear_of_unknown_age_asks_nothing():
    assert windows([TEST, REPLACE], [_pump(installed_on=None)]) == []


# --- purity --------------------------------------------------------------------------------------------------------


def _many(n):
    rng = np.random.default_rng(5)
    parts, rows = [], []
    for i in range(n):
        days = sorted(date(2024, 3, 1) + timedelta(days=int(d)) for d in rng.integers(0, 600, 3))
        kind = ("catch_basin", "channel_run", "pump")[i % 3]
        parts.append(basin(i, kind=kind, property_id=i // 5, cleanings=cleaned(*days), watched_for_silt=kind != "pump"))
        for day in days[1:]:
            if rng.random() < 0.5:
                rows.append(measured(i, day, float(rng.uniform(0.2, 9))))
            else:
                rows.append(graded(i, day, int(rng.integers(0, 6)), owner=bool(rng.random() < 0.3)))
    return parts, rows


RULES = [
    SILT,
    replace(SILT, id="channel", kind="channel_run", numbers=SiltNumbers(1 / 3)),
    HALF_YEARLY,
    WET,
    TEST,
    REPLACE,
]
COMPANY = ForecastSettings()


def test_same_inputs_same_bytes_whatever_stands_beside_them():
    parts, rows = _many(120)
    everything = windows(RULES, parts, rows, settings=COMPANY)
    assert repr(everything) == repr(windows(RULES, parts, rows, settings=COMPANY))
    assert repr(everything) == repr(windows(RULES[::-1], parts[::-1], rows[::-1], settings=COMPANY))
    some = [part for part in parts if part.property_id in (2, 7)]
    mine = [w for w in everything if w.property_id in (2, 7)]
    assert repr(windows(RULES, some, rows, settings=COMPANY)) == repr(mine)


def test_a_reading_at_one_part_changes_no_other():
    parts, rows = _many(60)
    before = windows(RULES, parts, rows, settings=COMPANY)
    after = windows(RULES, parts, [*rows, measured(7, date(2026, 2, 20), 5.0)], settings=COMPANY)
    changed = {w.component_id for w, x in zip(before, after, strict=True) if repr(w) != repr(x)}
    assert changed == {7}


def test_windows_do_not_move_with_the_day_of_asking():
    parts, rows = _many(60)
    silt = [r for r in RULES if r.basis in ("silt", "calendar", "wear")]
    one = windows(silt, parts, rows, as_of=date(2026, 3, 1))
    assert one == windows(silt, parts, rows, as_of=date(2026, 3, 20))


def test_five_thousand_parts_are_work_for_arrays(monkeypatch):
    made = []
    plain = Curve.__init__

    def counted(self, *given):
        made.append(1)
        plain(self, *given)

    monkeypatch.setattr(Curve, "__init__", counted)
    parts, rows = _many(5000)
    found = windows(RULES, parts, rows)
    assert len({w.component_id for w in found}) == 5000
    assert len(made) <= 3, "one curve a season and load, not one a part"


def test_dates_stand_in_order():
    parts, rows = _many(300)
    for w in windows(RULES, parts, rows, settings=COMPANY):
        assert w.earliest_useful <= w.best <= w.latest
        assert w.reasons


def test_nothing_in_nothing_out():
    assert windows(RULES, []) == []
    assert windows([], [basin()]) == []


def test_an_unknown_season_or_consequence_is_an_error():
    with pytest.raises(KeyError):
        windows([SILT], [basin(season="elsewhere")])
    with pytest.raises(KeyError):
        windows([SILT], [basin(consequence="cellar")])
