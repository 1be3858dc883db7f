"""The drawn section: its silt stands at the fill between bottom (y 27) and top (y 3), its tick at the limit."""

import re

import pytest

from pages.silt_section import section


def level(path: str) -> float:
    return float(re.match(r"M[\d.]+ ([\d.]+)", path).group(1))


@pytest.mark.parametrize("fill", [0.1, 0.25, 0.425, 0.46, 0.5, 0.8, 1.0])
def test_silt_stands_at_its_height(fill):
    drawn = section(fill, 0.5, heavy=False, label="x")
    assert level(drawn.silt) == pytest.approx(27 - 24 * fill, abs=0.051)  # the box is 24 units deep
    assert drawn.mark == "M33 15H44"


@pytest.mark.parametrize("fill", [0.05, 0.2, 0.3, 0.45])
def test_silt_ends_on_the_wall(fill):
    """The wall's corner is the curve (7,16) (7,27) (18,27): x of its point at the level, by bisection."""
    y = 27 - 24 * fill
    low, high = 0.0, 1.0
    for _ in range(60):
        t = (low + high) / 2
        if 16 * (1 - t) ** 2 + 2 * 27 * t * (1 - t) + 27 * t * t < y:
            low = t
        else:
            high = t
    x = 7 * (1 - low) ** 2 + 2 * 7 * low * (1 - low) + 18 * low * low
    drawn = float(re.match(r"M([\d.]+)", section(fill, 0.5, heavy=True, label="x").silt).group(1))
    assert drawn == pytest.approx(x, abs=0.06)


def test_nothing_and_too_much():
    assert section(0.0, 0.5, heavy=False, label="x").silt == ""
    assert level(section(3.0, 0.5, heavy=False, label="x").silt) == 3
    assert section(0.1, 0.5, heavy=True, label="x").mark == "M24 15H44"
