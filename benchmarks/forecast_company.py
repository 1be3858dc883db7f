"""An invented company whose yards silt up in ways the forecast does not assume. Everything here is made up.

Rates are not log-normal (gamma, one part in twenty three to six times faster), readings err with heavy tails, rain
counts more than in proportion, leaves fall early or late, basins stop trapping gradually, crews forget to note
what they left. `world="clumped"` is wrong on purpose: most silt comes in a few dumps of a storm.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final, Literal

import numpy as np

from maintenance.forecast.priors import rule_of_thumb
from maintenance.forecast.records import MEASURED, Floats, Ints
from maintenance.forecast.season import Climate, climate_of

START: Final = date(2018, 1, 1)
YEARS: Final = 6
WATCHED_YEARS: Final = 14  # the truth goes on, so that a late forecast date can still be checked
MONTHS: Final = (95.0, 85.0, 90.0, 75.0, 70.0, 60.0, 55.0, 60.0, 75.0, 95.0, 105.0, 105.0)
KINDS: Final = (("catch_basin", 12.0, 0.5, 0.45), ("channel_run", 5.0, 1 / 3, 0.35), ("gravity_pipe", 4.0, 1 / 3, 0.2))
CANOPIES: Final = ("open", "some", "heavy")

World = Literal["smooth", "clumped"]


@dataclass(frozen=True, eq=False)
class Company:
    """n parts: `kind`, `canopy` (indices), `height_in`, `threshold`, their own `rate`, `put_in` (day index).

    `moved` (n, days + 1): silt-moving weather each part has had since the start, true mean years. `rain_mm`: what the
    gauge wrote down, NaN in its gaps. `climate`: what the office knows of the climate.
    """

    kind: Ints
    canopy: Ints
    height_in: Floats
    threshold: Floats
    rate: Floats
    put_in: Ints
    moved: Floats
    rain_mm: Floats
    climate: Climate
    rng: np.random.Generator

    def __len__(self) -> int:
        return len(self.kind)

    def group(self, part: int) -> str:
        return f"{KINDS[self.kind[part]][0]}/{CANOPIES[self.canopy[part]]}"

    def fill(self, part: Ints, left: Floats, rate: Floats, since: Ints, day: Ints) -> Floats:
        """True fill of each part on `day`, `left` on day `since`, silting at `rate` of its cycle."""
        loose = left + rate * (self.moved[part, day] - self.moved[part, since])
        # A basin stops trapping gradually, between 0.55 and 0.65.
        soft = 0.55 + 0.1 * (1 - np.exp(-np.maximum(loose - 0.55, 0) / 0.1))
        return np.where((self.kind[part] == 0) & (loose > 0.55), soft, loose)


def company(seed: int, parts: int = 400, world: World = "smooth", groups_off: float = 0.3) -> Company:
    """A company of so many parts, put in over its first two years; `groups_off`: how far, as a log standard deviation,
    its groups lie from their rules of thumb."""
    rng = np.random.default_rng(seed)
    kind = rng.choice(len(KINDS), parts, p=[row[3] for row in KINDS])
    canopy = rng.choice(3, parts, p=[0.3, 0.45, 0.25])
    off = np.exp(groups_off * rng.normal(size=(len(KINDS), 3)))  # how far each rule of thumb is from these yards
    thumb = np.array([[np.exp(rule_of_thumb(row[0], c).mu) for c in CANOPIES] for row in KINDS])
    rate = (thumb * off)[kind, canopy] * rng.gamma(5.0, 1 / 4.67, parts)  # gamma of median 1
    rate *= np.where(rng.random(parts) < 0.05, rng.uniform(3, 6, parts), 1.0)
    rain = _rain(rng)
    moved = _moved(rng, rain, canopy, world)
    seen = np.where(rng.random(len(rain)) < 0.01, np.nan, rain)
    gap = rng.integers(200, 1500)
    seen[gap : gap + 25] = np.nan
    return Company(
        kind,
        canopy,
        np.array([row[1] for row in KINDS])[kind],
        np.array([row[2] for row in KINDS])[kind],
        rate,
        rng.integers(0, 730, parts),
        moved,
        seen,
        climate_of(MONTHS, leaf_months=(10, 11, 12)),
        rng,
    )


def _dates() -> Floats:
    days = round(WATCHED_YEARS * 365.25)
    return np.arange(days) + np.datetime64(START)


def _rain(rng: np.random.Generator) -> Floats:
    """Daily rain [mm]: wet days in a chain, gamma amounts, wet and dry years."""
    days = _dates()
    month = days.astype("datetime64[M]").astype(int) % 12
    year = days.astype("datetime64[Y]").astype(int)
    wetness = rng.gamma(60, 1 / 60, year.max() - year.min() + 1)[year - year.min()]
    wet = np.zeros(len(days), dtype=bool)
    draw = rng.random(len(days))
    for i in range(1, len(days)):
        wet[i] = draw[i] < (0.55 if wet[i - 1] else 0.25)
    amount = rng.gamma(0.7, 1 / 0.7, len(days)) * wet / 0.357
    return amount * np.array(MONTHS)[month] / 30.4 * wetness


def _moved(rng: np.random.Generator, rain: Floats, canopy: Ints, world: World) -> Floats:
    """True silt-moving weather of each part, running sums [mean years]."""
    days = _dates()
    strong = rain**1.15
    strong *= 1 / 365.25 / strong.mean()
    of_year = (days - days.astype("datetime64[Y]")).astype(int)
    shift = rng.normal(0, 8, WATCHED_YEARS + 2)[days.astype("datetime64[Y]").astype(int) - START.year + 1970]
    leaves = np.exp(-0.5 * ((of_year - 318 - shift) / 22.0) ** 2)
    leaves *= 1 / 365.25 / leaves.mean()
    even = np.full(len(days), 1 / 365.25)
    shares = np.array([(0.75, 0.10, 0.15), (0.60, 0.25, 0.15), (0.45, 0.40, 0.15)])[canopy]
    load = shares[:, :1] * strong + shares[:, 1:2] * leaves + shares[:, 2:] * even
    if world == "clumped":
        heavy = np.flatnonzero(rain > np.quantile(rain, 0.97))
        dumps = np.zeros_like(load)
        hit = rng.random((len(canopy), len(heavy))) < 0.3
        dumps[:, heavy] = hit * rng.gamma(1.0, 1.0, hit.shape)
        load = 0.35 * load + 0.65 * dumps / 365.25 / dumps.mean()
    return np.concatenate((np.zeros((len(canopy), 1)), np.cumsum(load, axis=1)), axis=1)


def look(company: Company, part: int, fill: float) -> tuple[float | None, int] | None:
    """What a crew notes of a fill: (depth [in], MEASURED), (None, grade), or nothing at all."""
    rng = company.rng
    draw = rng.random()
    if draw < 0.15:
        return None
    if draw < 0.55:
        depth = fill * company.height_in[part] * np.exp(0.2 * rng.standard_t(5))
        return float(np.round(min(depth, 1.2 * company.height_in[part]) * 4) / 4), MEASURED
    seen = fill * np.exp(0.25 * rng.normal())
    return None, int(np.searchsorted([1 / 8, 3 / 8, 5 / 8, 7 / 8, 1.0], seen))
