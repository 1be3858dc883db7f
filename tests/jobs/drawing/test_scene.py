"""The plan is to scale, names what it cannot draw, and points its arrows the way the water goes."""

import xml.etree.ElementTree as ET

import pytest
from django.template.loader import render_to_string

from jobs.drawing.scene import Drawn, feet_inches, scene

PARTS = [
    Drawn("CH-1", "channel_run", [[0, -5], [30, -5]], {"length_ft": 30}),
    Drawn("SB-1", "sump_basin", [[32, -6]], {"inside_diameter_in": 24}),
    Drawn("OF-1", "outfall", []),
]
PLAN = {"house": [[0, 0], [40, 0], [40, 25], [0, 25]], "north_deg": 20}


def test_feet_become_inches_east_and_south():
    drawn = scene(PARTS, [], PLAN, "south-west corner")
    channel = next(s for s in drawn.shapes if s.tag == "CH-1")
    assert channel.path == "M0 60L360 60"
    assert drawn.house == "M0 0L480 0L480 -300L0 -300Z"
    assert next(s for s in drawn.shapes if s.tag == "SB-1").size == 24


def test_arrows_follow_the_order_of_the_points():
    forth = scene([Drawn("CH-1", "channel_run", [[0, 0], [10, 0]])], [], {}, "")
    back = scene([Drawn("CH-1", "channel_run", [[10, 0], [0, 0]])], [], {}, "")
    assert forth.shapes[0].arrows[0][2] == 0
    assert abs(back.shapes[0].arrows[0][2]) == 180


def test_what_has_no_position_is_named():
    drawn = scene(PARTS, [("dog", None, None, None), ("cable", 3, 4, 6)], PLAN, "")
    assert drawn.missing == ("OF-1", "dog")
    assert [(m.number, m.x, m.y) for m in drawn.hazards] == [(2, 36, -48)]


def test_everything_lies_inside_the_picture():
    drawn = scene(PARTS, [("cable", 60, 60, 6)], PLAN, "")
    left, top, width, height = drawn.box
    for mark in drawn.hazards:
        assert left < mark.x < left + width
        assert top < mark.y < top + height


@pytest.mark.parametrize("parts", [[], PARTS])
def test_the_template_gives_well_formed_svg_without_inline_style(parts):
    text = render_to_string("documents/plan.svg.html", {"scene": scene(parts, [("cable", 1, 1, 1)], PLAN, "corner")})
    root = ET.fromstring(text.split("#}", 1)[-1].strip())
    assert root.tag.endswith("svg")
    assert "style=" not in text


def test_lengths_in_feet_and_inches():
    assert [feet_inches(v) for v in (12.5, 3, 0.99)] == ["12 ft 6 in", "3 ft", "1 ft"]
