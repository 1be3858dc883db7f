"""Run hours and starts: by hand, by following the water minute by minute, and on records with holes."""

import math

import numpy as np
import pytest

from maintenance.forecast.pump_load import PumpedBasin, hourly_rain, load_from_days, load_from_hours, loads_from_hours

# 130 m2 of runoff area, 12 m3/h (about 53 gpm), 33 L between the floats
BASIN = PumpedBasin(runoff_area_m2=130.0, duty_m3_h=12.0, active_m3=0.033)


def _hours(*rain):
    return hourly_rain(np.arange(len(rain)), np.array(rain, dtype=float))


def test_one_hour_by_hand():
    load = load_from_hours(_hours(0, 20, 0), BASIN)
    volume = 0.020 * 130
    assert load.run_hours == pytest.approx(volume / 12)
    assert load.starts == pytest.approx(volume * (1 - volume / 12) / 0.033)
    assert (load.unknown_hours, load.estimated, load.left_m3) == (0, False, 0)


def test_an_hour_followed_second_by_second():
    inflow, step = 0.020 * 130 / 3600, 1 / 40
    level, running, starts, run = 0.0, False, 0, 0.0
    for _ in range(3600 * 40):
        level += (inflow - (12 / 3600 if running else 0)) * step
        run += step if running else 0
        if not running and level >= 0.033:
            running, starts = True, starts + 1
        elif running and level <= 0:
            running = False
    load = load_from_hours(_hours(20), BASIN)
    assert load.starts == pytest.approx(starts, abs=1)
    assert load.run_hours == pytest.approx(run / 3600, rel=0.02)


def test_what_an_hour_cannot_pump_waits_for_the_next():
    load = load_from_hours(_hours(200, 0, 0), BASIN)
    assert load.run_hours == pytest.approx(0.2 * 130 / 12)
    assert load.pumped_m3 + load.left_m3 == pytest.approx(0.2 * 130)
    cut_off = load_from_hours(_hours(200), BASIN)
    assert cut_off.left_m3 == pytest.approx(0.2 * 130 - 12)
    assert cut_off.starts == 0  # it never stopped


def test_days_give_the_same_hours_and_an_upper_bound_of_starts():
    rng = np.random.default_rng(6)
    rain = rng.gamma(0.1, 8, 24 * 60)
    hourly, daily = load_from_hours(_hours(*rain), BASIN), load_from_days(rain.reshape(60, 24).sum(axis=1), BASIN)
    assert daily.run_hours == pytest.approx(hourly.run_hours + hourly.left_m3 / 12)
    assert daily.starts > hourly.starts
    assert daily.estimated
    assert not hourly.estimated


def test_gaps_are_counted_not_filled():
    load = load_from_hours(_hours(10, math.nan, 10), BASIN)
    assert load.unknown_hours == 1
    assert load.run_hours == pytest.approx(load_from_hours(_hours(10, 0, 10), BASIN).run_hours)
    assert load_from_days(np.array([10, math.nan]), BASIN).unknown_hours == 24


def test_rows_in_any_order_with_duplicates_and_holes():
    rain = hourly_rain(np.array([105, 100, 101, 101, 103]), np.array([1.0, 2.0, 3.0, 4.0, math.nan]))
    assert rain.first_hour == 100
    assert rain.duplicated == (101,)
    assert rain.missing == 3
    assert np.nan_to_num(rain.rain_mm, nan=-1).tolist() == [2, 7, -1, -1, -1, 1]


def test_bad_input_is_named():
    with pytest.raises(ValueError, match="below 0 mm in hour 3"):
        hourly_rain(np.array([3]), np.array([-1.0]))
    with pytest.raises(ValueError, match="no hour"):
        hourly_rain(np.array([], dtype=int), np.array([]))
    with pytest.raises(ValueError, match="active_m3 is 0"):
        PumpedBasin(1, 1, 0)
    with pytest.raises(ValueError, match="below 0 mm"):
        load_from_days(np.array([-1.0]), BASIN)


def test_many_basins_at_once_are_as_each_by_itself():
    rng = np.random.default_rng(5)
    rain = np.where(rng.random(3000) < 0.12, rng.gamma(0.7, 9.0, 3000), 0.0)
    rain[rng.random(3000) < 0.01] = np.nan
    record = hourly_rain(np.arange(3000), rain)
    basins = [PumpedBasin(a, q, v) for a in (0.0, 20.0, 130.0, 900.0) for q in (2.0, 12.0) for v in (0.02, 0.2)]
    for basin, load in zip(basins, loads_from_hours(record, basins), strict=True):
        alone = load_from_hours(record, basin)
        for name in ("run_hours", "starts", "pumped_m3", "left_m3", "unknown_hours"):
            assert getattr(load, name) == pytest.approx(getattr(alone, name), rel=1e-9, abs=1e-9), (basin, name)
        assert not load.estimated
