"""Reasons in words: every code has a sentence, every value its words, none slips through unfilled."""

import re
from pathlib import Path

import pytest

from maintenance.forecast import reasons
from maintenance.forecast.reasons import TEMPLATES, chance_words, explain, share_words, words
from maintenance.forecast.records import Reason

EXAMPLES = {
    "latest": "2026-05-31",
    "on": "2026-02-03",
    "anchor": "2026-11-01",
    "tolerance": 0.2,
    "threshold": 0.5,
    "fill": 0.25,
    "group": "french_drain/heavy",
    "readings": 4,
    "months": 12.0,
    "interval": 0.75,
    "age": 5.7,
    "unavailability": 0.05,
    "rain": 40.0,
    "days": 90,
    "times": 1.8,
    "clear_in": 6.0,
    "rule": "Clean yearly",
}


@pytest.mark.parametrize("code", sorted(TEMPLATES))
def test_every_reason_is_a_sentence(code):
    names = re.findall(r"%\((\w+)\)s", TEMPLATES[code])
    text = words(Reason(code, tuple((name, EXAMPLES[name]) for name in names)))
    assert text[0].isupper()
    assert text.endswith(".")
    assert "%(" not in text
    assert "_" not in text


def test_sentences_people_read():
    assert (
        words(Reason("silt_chance", (("latest", "2026-05-31"), ("tolerance", 0.2), ("threshold", 0.5))))
        == "It has one chance in five of being past its limit, half full, by 31 May 2026."
    )
    assert (
        words(Reason("rate_faster", (("times", 1.8), ("group", "catch_basin/heavy"), ("readings", 4))))
        == "It silts 1.8 times faster than similar catch basins under heavy trees, from 4 readings."
    )
    assert words(Reason("last_reading", (("fill", "half"), ("on", "2026-02-03")))) == (
        "Last found half full, judged by eye on 3 February 2026."
    )
    assert words(Reason("calendar", (("months", 6.0), ("on", "2026-02-03")))).startswith("Wanted every 6 months;")
    assert words(Reason("storm", (("on", "2026-02-03"), ("rain", 40.0)))).endswith("1.6 in of rain.")
    assert explain([Reason("firm"), Reason("look_first")]).count(".") == 2


@pytest.mark.parametrize(
    ("chance", "text"),
    [
        (0.001, "less than one chance in two hundred"),
        (0.01, "one chance in 100"),
        (0.05, "one chance in twenty"),
        (0.1, "one chance in ten"),
        (0.2, "one chance in five"),
        (0.25, "one chance in four"),
        (0.3, "three chances in ten"),
        (0.5, "one chance in two"),
        (0.9, "nine chances in ten"),
        (0.99, "more than nine chances in ten"),
    ],
)
def test_chances_as_people_say_them(chance, text):
    assert chance_words(chance) == text


def test_shares_as_people_say_them():
    assert [share_words(v) for v in (1 / 3, 0.5, 0.6, 1.0, 1.2)] == [
        "a third full",
        "half full",
        "60 % full",
        "full",
        "overflowing",
    ]


def test_no_template_is_left_over_and_none_is_missing():
    folder = Path(reasons.__file__).parent
    code = "\n".join(p.read_text() for p in folder.glob("*.py") if p.name not in ("reasons.py", "oddities.py"))
    used = {code_ for code_ in TEMPLATES if f'"{code_}"' in code}
    assert used == set(TEMPLATES)


def test_an_unknown_code_is_an_error():
    with pytest.raises(KeyError):
        words(Reason("nothing_of_the_sort"))
