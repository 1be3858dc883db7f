"""Reasons in plain English. A reason is a code with values; its sentence is a template filled with words for them.

Pages that speak another language translate the templates (`TEMPLATES`) and fill them with `told`, their own words.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Final

from maintenance.forecast.records import GRADES, Reason

Value = str | int | float

TEMPLATES: Final[Mapping[str, str]] = {
    # what governs
    "silt_chance": "It has %(tolerance)s of being past its limit, %(threshold)s, by %(latest)s.",
    "silt_left_over": "The last cleaning left it at its limit already.",
    "found_over": "It was found %(fill)s on %(on)s, at or past its limit, and not cleaned.",
    "pump_at_risk": "Silt has reached the pump's intake (%(on)s): pump at risk, due now.",
    "first_look": "Neither its age nor a cleaning is on record: a first look within %(days)s days.",
    "calendar": "Wanted every %(months)s; last done %(on)s.",
    "calendar_installed": "Wanted every %(months)s; in service since %(on)s and not done yet.",
    "calendar_unknown": "Wanted every %(months)s; no record that it was ever done.",
    "season_wet": "Wanted before the wet season, which begins %(anchor)s.",
    "season_leaf_fall": "Wanted after leaf fall, which is over by %(anchor)s.",
    "season_freeze": "Wanted before freezing begins, about %(anchor)s.",
    "season_thaw": "Wanted when freezing is over, about %(anchor)s.",
    "season_date": "Wanted once a year about %(anchor)s.",
    "wear_test": "It can fail unseen: tested every %(interval)s it is out of order %(unavailability)s of the time.",
    "wear_replace": "Replacing it at about %(age)s costs less than waiting for it to fail.",
    "storm": "A look after the storm of %(on)s, %(rain)s.",
    "storm_more": "Another storm since, on %(on)s, %(rain)s.",
    # what was learned
    "rate_faster": "It silts %(times)s times faster than %(group)s, from %(readings)s.",
    "rate_slower": "It silts %(times)s times slower than %(group)s, from %(readings)s.",
    "rate_alike": "It silts about as fast as %(group)s, from %(readings)s.",
    "rate_assumed": "No reading has shown its own rate yet: it is taken to silt like %(group)s.",
    "last_reading": "Last found %(fill)s on %(on)s.",
    "from_first_look": "Its silt is counted from that look, as nothing earlier is known.",
    "look_first": "How fast it silts is not well known: look, clean if over half the threshold.",
    "rain_gaps": "The rain record has %(days)s missing days since the last cleaning; the climate stands in for them.",
    "no_height": "Readings in inches could not be used: the depth that holds silt is unknown.",
    # why this limit
    "limit_practice": "Its limit is %(threshold)s.",
    "limit_basin": "Its limit is %(threshold)s: a catch basin fuller than that soon stops trapping.",
    "limit_clear": "Its limit is %(threshold)s: %(clear_in)s in must stay clear below the outlet.",
    "limit_capacity": "Its limit is %(threshold)s: fuller than that it no longer carries its share of the storm.",
    "limit_no_margin": "It has no margin for silt: even clean it barely carries its share. Its limit is %(threshold)s.",
    # firm and fallback
    "fallback_stopped": 'The rule "%(rule)s" no longer counts: two cleanings\' readings show its own rate.',
    "fallback_until": "This is a rule of thumb until readings from two cleanings show its own rate.",
    "firm": "This day is firm, whatever the silt says.",
}


def words(reason: Reason) -> str:
    """One reason as an English sentence. Raises KeyError for a code or value that no template knows."""
    return TEMPLATES[reason.code] % told(reason)


def explain(reasons: Iterable[Reason]) -> str:
    """Reasons as one text, in their order."""
    return " ".join(words(reason) for reason in reasons)


def told(reason: Reason) -> dict[str, str]:
    """The values of a reason, each in words, to fill its template with."""
    return {name: _TELL.get(name, _number)(value) for name, value in reason.params}


def chance_words(chance: float) -> str:
    """A chance as people say it.

    >>> chance_words(0.2), chance_words(0.05), chance_words(0.3)
    ('one chance in five', 'one chance in twenty', 'three chances in ten')
    """
    if chance < 0.005:
        return "less than one chance in two hundred"
    if chance > 0.95:
        return "more than nine chances in ten"
    if chance < 0.28:
        return f"one chance in {_count(round(1 / chance))}"
    tenths = round(chance * 10)
    if tenths == 5:
        return "one chance in two"
    return f"{_count(tenths)} chances in ten"


def share_words(fill: float) -> str:
    """A fill as people say it.

    >>> share_words(1 / 3), share_words(0.5), share_words(0.42)
    ('a third full', 'half full', '42 % full')
    """
    named = {1 / 8: "an eighth full", 1 / 4: "a quarter full", 1 / 3: "a third full", 1 / 2: "half full"}
    named |= {2 / 3: "two thirds full", 3 / 4: "three quarters full", 1.0: "full"}
    for value, text in named.items():
        if abs(fill - value) < 0.004:
            return text
    return f"{round(fill * 100)} % full" if fill <= 1 else "overflowing"


_NUMBERS: Final = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_GRADE_WORDS: Final = dict(
    zip(GRADES, ("clean", "a quarter full", "half full", "three quarters full", "full", "overflowing"), strict=True)
)
_CANOPY_WORDS: Final = {"open": "under open sky", "some": "under some trees", "heavy": "under heavy trees"}


def _count(value: int) -> str:
    if value == 20:
        return "twenty"
    return _NUMBERS[value] if 0 <= value < len(_NUMBERS) else str(value)


def _number(value: Value) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _day(value: Value) -> str:
    day = date.fromisoformat(str(value))
    return f"{day.day} {day:%B %Y}"


def _fill(value: Value) -> str:
    return _GRADE_WORDS[value] + ", judged by eye" if isinstance(value, str) else share_words(float(value))


def _group(value: Value) -> str:
    kind, _, canopy = str(value).partition("/")
    name = kind.replace("_", " ").replace("french", "French")
    return f"similar {name}s {_CANOPY_WORDS.get(canopy, '')}".rstrip()


def _readings(value: Value) -> str:
    return "one reading" if value == 1 else f"{value} readings"


def _months(value: Value) -> str:
    if value == 1:
        return "month"
    if value == 12:
        return "year"
    return f"{value:g} months" if isinstance(value, float) else f"{value} months"


def _span(value: Value) -> str:
    years = float(value)
    return f"{years:.1f} years" if years >= 2 else f"{max(round(years * 12), 1)} months"


def _percent(value: Value) -> str:
    return f"{float(value) * 100:.3g} %"


def _rain(value: Value) -> str:
    return f"{float(value) / 25.4:.1f} in of rain"


_TELL: Final = {
    "latest": _day,
    "on": _day,
    "anchor": _day,
    "tolerance": lambda value: chance_words(float(value)),
    "threshold": lambda value: share_words(float(value)),
    "fill": _fill,
    "before": _fill,
    "after": _fill,
    "group": _group,
    "readings": _readings,
    "months": _months,
    "interval": _span,
    "age": _span,
    "unavailability": _percent,
    "rain": _rain,
}
