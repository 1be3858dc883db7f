"""The plan is to scale, shows which way the water goes, and names what it cannot draw."""

import math
import re
import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest
from django.template.loader import render_to_string
from django.utils import translation

from jobs.drawing.labels import overlap
from jobs.drawing.scene import scene
from jobs.drawing.shapes import Drawn
from jobs.kinds import registry

PARTS = [
    Drawn("CH-1", "channel_run", [[0, -5], [30, -5]], {"length_ft": 30}, goes_to=["SB-1"]),
    Drawn("SB-1", "sump_basin", [[32, -6]], {"inside_diameter_in": 24}),
    Drawn("PU-1", "pump", [], inside="SB-1", goes_to=["DL-1"]),
    Drawn("DL-1", "discharge_line", [[60, -20], [33, -6]], {"length_ft": 31}, cover_in=18, goes_to=["OF-1"]),
    Drawn("OF-1", "outfall", [[61, -21]]),
    Drawn("CB-9", "catch_basin", []),
    Drawn("", "grate", [], inside="CB-9"),
]
PLAN = {"house": [[0, 0], [40, 0], [40, 25], [0, 25]], "north_deg": 20}


def drawn(parts=PARTS, hazards=(), plan=PLAN, corner="south-west corner"):
    return scene(parts, list(hazards), plan, corner)


def numbers(path: str) -> list[tuple[float, float]]:
    """The points of a path of straight stretches."""
    return [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", path)]


def line(made, tag):
    return next(item for item in made.lines if item.tag == tag)


def node(made, tag):
    return next(item for item in made.nodes if item.tag == tag)


def test_every_length_is_to_one_scale():
    made = drawn()
    (x1, y1), (x2, y2) = numbers(line(made, "CH-1").path)
    assert math.dist((x1, y1), (x2, y2)) / made.scale == pytest.approx(30, abs=0.05)
    corners = numbers(made.house)
    assert math.dist(corners[0], corners[1]) / made.scale == pytest.approx(40, abs=0.05)
    assert math.dist(corners[1], corners[2]) / made.scale == pytest.approx(25, abs=0.05)
    assert sum(width for _, width in made.bar) / made.scale == pytest.approx(2 * made.bar_ft, abs=0.05)


def test_east_is_right_and_north_is_up():
    made = drawn()
    basin, (x, y) = node(made, "SB-1"), made.corner_at
    assert (basin.x - x) / made.scale == pytest.approx(32, abs=0.05)
    assert (basin.y - y) / made.scale == pytest.approx(6, abs=0.05), "six feet south lie below the corner"


def test_a_foot_is_304_8_mm_over_the_scale_on_paper():
    """The international foot: 0.3048 m exactly (1959 agreement, NIST SP 811, B.8)."""
    made = drawn()
    width_mm = made.paper_mm[0]
    assert width_mm / made.width * made.scale * made.ratio == pytest.approx(304.8, rel=1e-4)
    assert width_mm <= 245
    assert made.paper_mm[1] <= 165


def test_a_basin_is_as_large_as_it_is_and_a_small_thing_can_still_be_seen():
    close = drawn([Drawn("SB-1", "sump_basin", [[1, 1]], {"inside_diameter_in": 48})], plan={})
    assert node(close, "SB-1").reach / close.scale == pytest.approx(2, abs=0.01)
    assert node(drawn(), "SB-1").reach >= 9


def test_arrows_point_to_where_the_water_goes_whatever_the_order_of_the_points():
    made = drawn()
    assert [turn for _, _, turn in line(made, "CH-1").arrows] == [0, 0]
    # DL-1 was measured from the outfall back: its water runs to the outfall, right and down.
    start, end = numbers(line(made, "DL-1").path)
    assert start[0] < end[0]
    assert all(0 < turn < 90 for _, _, turn in line(made, "DL-1").arrows)


def test_a_level_channel_open_at_both_ends_runs_both_ways():
    basins = [Drawn("SB-1", "sump_basin", [[-2, 0]]), Drawn("SB-2", "sump_basin", [[42, 0]])]
    made = drawn([Drawn("CH-1", "channel_run", [[0, 0], [40, 0]], goes_to=["SB-1", "SB-2"]), *basins], plan={})
    first, last = line(made, "CH-1").arrows
    assert abs(first[2]) == 180
    assert last[2] == 0


def test_what_sits_in_a_basin_is_named_there_and_not_drawn_twice():
    made = drawn()
    assert node(made, "SB-1").holds == "PU-1"
    assert {item.tag for item in made.nodes} == {"SB-1", "OF-1"}


def test_what_has_no_position_is_named_but_its_sub_parts_are_not():
    made = drawn(hazards=[("dog", None, None, None), ("cable", 3, 4, 6)])
    assert made.missing == ("CB-9", "dog")
    assert [mark.number for mark in made.hazards] == [2], "the number in the list of hazards"


def test_water_that_goes_on_over_unmeasured_ground_is_a_link():
    made = drawn()
    # CH-1 ends 2.2 ft from SB-1, DL-1 begins at 1 ft from it and ends 1.4 ft from OF-1: three gaps.
    assert len(made.links) == 3
    joined = drawn(
        [Drawn("GP-1", "gravity_pipe", [[0, 0], [9, 0]], goes_to=["OF-1"]), Drawn("OF-1", "outfall", [[9, 0]])]
    )
    assert joined.links == ()


def test_the_outfall_opens_away_from_its_pipe():
    made = drawn(
        [Drawn("GP-1", "gravity_pipe", [[0, 0], [0, -9]], goes_to=["OF-1"]), Drawn("OF-1", "outfall", [[0, -9]])]
    )
    assert node(made, "OF-1").turn == pytest.approx(90), "down the paper: south"


def test_distances_from_the_corner_stand_at_the_edges():
    made = drawn()
    assert {"0", "30 ft E", "32 ft E", "60 ft E"} <= {m.words for m in made.across}
    assert {"0", "5 ft S", "6 ft S", "20 ft S"} <= {m.words for m in made.down}
    for side in (made.across, made.down):
        shown = [m.shown for m in side]
        assert all(later - sooner >= 12 for sooner, later in pairwise(shown)), "none upon another"


def test_places_in_words_say_the_same():
    told = {place.tag: place for place in drawn().places}
    assert told["SB-1"].words == "32 ft east, 6 ft south"
    assert told["PU-1"].words == "in SB-1"
    assert told["DL-1"].depth == "18 in"


def test_labels_tell_length_and_depth_and_do_not_lie_on_each_other():
    made = drawn(hazards=[("cable", 31, -8, 6)])
    assert line(made, "DL-1").label.text == "DL-1, 31 ft, 18 in deep"
    boxes = [item.name.box for item in (*made.nodes, *made.hazards)]
    assert all(overlap(a, b) == 0 for n, a in enumerate(boxes) for b in boxes[n + 1 :])


@pytest.mark.parametrize(
    "parts",
    [
        [],
        PARTS,
        [Drawn("X", "no_such_kind", [[0, 0]])],
        [Drawn("A", "pump", [[0, 0]], inside="B"), Drawn("B", "pump", [[0, 0]], inside="A")],
        [Drawn("FAR", "outfall", [[4000, -4000]])],
        [Drawn("GP", "gravity_pipe", [[0, 0]]), Drawn("DW", "dry_well", [[0, 0]]), Drawn("", "clean_out", [[0, 0]])],
    ],
)
def test_everything_lies_on_the_paper(parts):
    made = drawn(parts, [("cable", 60, 60, 6)])
    points = [(n.x, n.y) for n in (*made.nodes, *made.hazards)] + [p for item in made.lines for p in numbers(item.path)]
    assert all(0 < x < made.width and 0 < y < made.foot for x, y in points)


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("parts", [[], PARTS, [Drawn(k.tag_prefix, k.code, [[3, 4], [9, 4]]) for k in registry.ALL]])
def test_the_template_gives_well_formed_svg_with_points_in_its_numbers(parts, language):
    with translation.override(language):
        text = render_to_string("documents/plan.svg.html", {"scene": drawn(parts, [("cable <b>", 1, 1, 1)])})
    root = ET.fromstring(text.strip())
    assert root.tag.endswith("svg")
    assert "style=" not in text
    assert not re.search(r'="[^"]*\d,\d', text), "a comma would be another number to SVG"


def test_every_kind_has_its_own_line_in_the_legend():
    made = drawn([Drawn(k.code, k.code, [[n, 4], [n + 8, 4]]) for n, k in enumerate(registry.ALL)])
    signs = [(item.form, item.stroke, item.letters) for item in made.key]
    assert len(signs) == len(set(signs)) == len(registry.ALL), "told apart without colour"
    assert "channel run" in render_to_string("documents/plan_key.html", {"scene": made})


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2 (W3C Recommendation), section 5.2 definitions."""
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize(
    ("colour", "ground", "least"),
    [
        ("#14262b", "#fffefa", 4.5),
        ("#1d5c80", "#fffefa", 3.0),
        ("#747d7a", "#fffefa", 3.0),
        ("#e9ece4", "#1b2527", 4.5),
        ("#7cc0e0", "#1b2527", 3.0),
        ("#7f8d8d", "#1b2527", 3.0),
    ],
)
def test_words_and_lines_stand_out_from_the_paper(colour, ground, least):
    """WCAG 2.2, 1.4.3 (text 4.5 to 1) and 1.4.11 (graphics 3 to 1); axe cannot judge inside a drawing."""
    light, dark = sorted((luminance(colour), luminance(ground)), reverse=True)
    assert (light + 0.05) / (dark + 0.05) >= least
