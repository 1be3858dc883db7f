"""Filters: codes and numbers in words."""

from datetime import time
from types import SimpleNamespace

import pytest

from pages.templatetags.drain_words import arrival, from_corner, outcome_words, task_words


@pytest.mark.parametrize(
    ("x", "y", "said"),
    [
        (4.0, -6.5, "4 ft east, 6.5 ft south of the corner"),
        (-4.0, 6.0, "4 ft west, 6 ft north of the corner"),
        (None, 6.0, ""),
        (0.0, None, ""),
    ],
)
def test_position(x, y, said):
    assert from_corner(SimpleNamespace(x_ft=x, y_ft=y)) == said


@pytest.mark.parametrize(
    ("start", "minutes", "said"),
    [
        (time(9), 90, "between 9:00 and 10:30"),
        (time(9), None, "at 9:00"),
        (None, None, ""),
        (time(22), 300, "between 22:00 and 23:59"),
    ],
)
def test_arrival(start, minutes, said):
    assert arrival(SimpleNamespace(local_start=start, span_minutes=minutes)) == said


def test_codes_and_unknown_codes():
    assert task_words("test_pump") == "test pump"
    assert task_words("nonsense") == "nonsense"
    assert outcome_words("found_fine") == "found fine, nothing needed"
    assert outcome_words("") == ""
