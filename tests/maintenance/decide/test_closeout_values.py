"""Times, units and silt left behind, against exact definitions; and the JSON as its documentation shows it."""

import json
import uuid
from datetime import UTC, datetime, timedelta

import pytest

from jobs.kinds import registry
from maintenance.decide import closeout_values as values
from maintenance.decide.closeout_meaning import NotUnderstood, ReadingTaken, closeout_schema, is_json, read_closeout
from maintenance.decide.closeout_summary import PartTold, TaskTold, fill_words, summarise

NOON = datetime(2026, 5, 4, 12, tzinfo=UTC)
BASIN, DRAIN, PUMP = (registry.get(code) for code in ("catch_basin", "french_drain", "pump"))


def reading(**said):
    return ReadingTaken(**{"tag": "X-1", "code": "silt_depth_in", **said})


def test_skew_needs_the_clock_at_sending():
    later = NOON + timedelta(hours=5)
    assert values.skew_seconds(NOON + timedelta(minutes=10), None, NOON) == 600
    assert values.skew_seconds(None, NOON, later) is None  # closed hours before there was signal: no sign of skew
    assert values.skew_seconds(None, NOON + timedelta(hours=2), NOON) == 7200  # ahead of the server: certain


@pytest.mark.parametrize(
    ("skew", "moved", "why"), [(None, 0, ""), (300, 0, ""), (-300, 0, ""), (301, 301, "skew"), (-7200, -7200, "skew")]
)
def test_over_five_minutes_is_corrected(skew, moved, why):
    at = NOON - timedelta(hours=4)
    assert values.corrected(at, skew, NOON) == (at - timedelta(seconds=moved), why)


@pytest.mark.parametrize(
    ("value", "unit", "inches"),
    [(2.5, "", 2.5), (2.5, "in", 2.5), (25.4, "mm", 1.0), (2.54, "cm", 1.0), (0.5, "ft", 6.0), (0.254, "m", 10.0)],
)
def test_lengths(value, unit, inches):
    # The inch is 25.4 mm exactly (international yard and pound agreement, 1959).
    found = values.check_reading(BASIN, {}, reading(value=value, unit=unit))
    assert found.canonical == pytest.approx(inches, rel=1e-12)
    assert (found.value, found.unit) == (value, unit or "in")


def test_deeper_than_can_hold_silt_is_odd_but_taken():
    assert "6 in" in values.check_reading(BASIN, {"invert_above_bottom_in": 6}, reading(value=7)).odd
    assert values.check_reading(BASIN, {"invert_above_bottom_in": 6}, reading(value=6)).odd == ""


def test_a_kind_may_tighten_a_limit():
    with pytest.raises(values.ImpossibleValue, match="0 to 24 in"):
        values.check_reading(DRAIN, {}, reading(value=30))


def test_silt_is_watched_in_a_french_drain_only_through_a_clean_out():
    known = {"inside_diameter_in": 4.0}
    assert values.silt_height_in(DRAIN, known) is None
    assert values.silt_height_in(DRAIN, {**known, "clean_out_fitted": True}) == 4.0
    assert values.silt_height_in(PUMP, {}) is None


def test_assumed_height_serves_where_nothing_was_measured():
    assert values.silt_height_in(BASIN, values.known_dimensions(BASIN, {}, {}, BASIN.version)) == 6.0


def test_a_basin_of_12_by_12_with_6_in_below_its_outlet_is_half_full_at_3_in():
    # Fill is depth over the height of the lowest outlet, never over the whole depth (methods: depth fraction).
    taken = [(reading(value=3), values.check_reading(BASIN, {}, reading(value=3)))]
    assert values.found_fill(6.0, taken) == 0.5
    assert values.left_behind(6.0, None, taken) is None  # taken before the cleaning


EXAMPLE = {
    "version": 1,
    "uid": "7d0f7d8e-6a5e-4f0e-9a55-1f6f6d1c0a01",
    "visit": "0b8e1d9e-30b5-4d0b-8d54-2f5a3b9d6c02",
    "left_at": "2026-05-04T08:50:00-04:00",
    "lids_fastened": True,
}


def test_the_least_closeout_reads():
    body = read_closeout(json.dumps(EXAMPLE).encode(), uuid.UUID(EXAMPLE["uid"]))
    assert body.left_at == datetime(2026, 5, 4, 12, 50, tzinfo=UTC)
    assert body.tasks == ()


def test_empty_and_absent_are_the_same():
    nulls = {**EXAMPLE, "note": None, "signature": None, "address": None, "arrived_at": None, "property": None}
    uid = uuid.UUID(EXAMPLE["uid"])
    assert read_closeout(json.dumps(nulls).encode(), uid) == read_closeout(json.dumps(EXAMPLE).encode(), uid)


@pytest.mark.parametrize("strokes", ["M10 10L20 20h5", "", "M1 -2L3 4"])
def test_signatures_are_strokes(strokes):
    said = json.dumps({**EXAMPLE, "signature": strokes}).encode()
    assert read_closeout(said, uuid.UUID(EXAMPLE["uid"])).signature == strokes


@pytest.mark.parametrize("strokes", ["M1 1\n", "M1 1Z", "javascript:", "M1,1", "M1 1" * 20_000])
def test_nothing_else_is(strokes):
    with pytest.raises(NotUnderstood, match="signature"):
        read_closeout(json.dumps({**EXAMPLE, "signature": strokes}).encode(), uuid.UUID(EXAMPLE["uid"]))


def test_hidden_directions_and_control_characters_are_taken_out_of_text():
    said = json.dumps({**EXAMPLE, "note": "a\u202eb\u0000c"}).encode()
    assert read_closeout(said, uuid.UUID(EXAMPLE["uid"])).note == "abc"


def test_every_problem_is_named():
    said = {**EXAMPLE, "left_at": "soon", "lids_fastened": None, "tasks": [{"tag": "A", "task": "x", "outcome": "y"}]}
    with pytest.raises(NotUnderstood) as refused:
        read_closeout(json.dumps(said).encode(), uuid.UUID(EXAMPLE["uid"]))
    assert {field for field, _ in refused.value.problems} >= {
        "left_at",
        "lids_fastened",
        "tasks.0.task",
        "tasks.0.outcome",
    }


@pytest.mark.parametrize("body", [b"{}", b"[1]", b'"a"', b" 1 "])
def test_json(body):
    assert is_json(body)


@pytest.mark.parametrize("body", [b"", b"\xef\xbb\xbf{}", b"{} {}", b"{'a': 1}", b"[Infinity]", b"[" * 50_000])
def test_not_json(body):
    assert not is_json(body)


def test_the_schema_names_what_is_required():
    assert sorted(closeout_schema()["required"]) == ["left_at", "lids_fastened", "uid"]


def test_the_summary_is_plain_and_says_nothing_of_codes():
    told = summarise(
        on=NOON.date(),
        tasks=[
            TaskTold("catch_basin", "CB-1", "clean", "done", found_fill=0.5, left_fill=0.2),
            TaskTold("pump", "PU-1", "test_pump", "could_not", "no_power"),
            TaskTold("pump", "PU-2", "test_pump", "could_not", "gate code 4711 did not work"),
        ],
        parts=[PartTold("pump", "PU-1", "would not start, call 555-123-4567")],
        hazards=1,
        lids_fastened=True,
        nobody_home=False,
        follow_up=True,
    )
    assert told["lines"][0] == (
        "Cleaning, the box under a grate that catches silt and leaves (CB-1): done; we found it about half full "
        "and left it about a quarter full."
    )
    assert told["lines"][1].endswith("could not be done (no power).")
    text = " ".join(told["lines"])
    assert "4711" not in text
    assert "555-123" not in text


@pytest.mark.parametrize(
    ("fill", "text"),
    [(0, "clean"), (0.12, "nearly clean"), (0.25, "about a quarter full"), (0.62, "about half full"), (0.9, "full")],
)
def test_fill_in_words(fill, text):
    # Cut where grades are: 1/8, 3/8, 5/8, 7/8.
    assert fill_words(fill) == text
