"""Writing refuses what cannot be, reading refuses nothing."""

import dataclasses
import json
import math

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.kinds import registry
from jobs.kinds.dimensions import (
    DimensionError,
    Known,
    clean_dimensions,
    fields,
    fill_assumptions,
    json_schema,
    read_dimensions,
)
from tests.jobs.kinds.snapshots import STORED

CODES = [kind.code for kind in registry.ALL]

# Dimensions of a round part, which the square examples cannot have too.
ROUND_ONLY = {"catch_basin": {"inside_diameter_in"}, "grate": {"diameter_in"}}


def refused(code, values, certainty=None):
    with pytest.raises(DimensionError) as caught:
        clean_dimensions(registry.get(code), values, certainty)
    return {problem.field: problem.message for problem in caught.value.problems}


def stored(code, version):
    return json.loads((STORED / f"{code}.v{version}.json").read_text(encoding="utf-8"))


def test_an_old_part_needs_no_dimension_at_all():
    for code in CODES:
        assert clean_dimensions(registry.get(code), {}) == Known({}, {})


def test_none_is_unknown_and_a_kind_key_that_agrees_is_dropped():
    known = clean_dimensions(registry.get("clean_out"), {"kind": "clean_out", "two_way": None, "inside_diameter_in": 4})
    assert known == Known({"inside_diameter_in": 4.0}, {"inside_diameter_in": "assumed"})


def test_a_message_names_field_value_limit_and_unit():
    messages = refused("channel_run", {"inside_width_in": 40, "length_ft": 0.1})
    assert messages == {
        "inside_width_in": "inside_width_in is 40 in: give a number from 1 to 24 in.",
        "length_ft": "length_ft is 0.1 ft: give a number from 0.5 to 500 ft.",
    }


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 10**400, True, "4", [4], {"in": 4}])
def test_only_finite_numbers_are_numbers(value):
    assert "give a number from 1 to 24 in" in refused("channel_run", {"inside_width_in": value})["inside_width_in"]


def test_every_problem_is_told_at_once():
    values = {"inside_widht_in": 4, "ends": "both", "slope_percent": -1, "manning_n": math.nan}
    messages = refused("channel_run", values, {"length_ft": "measured"})
    assert set(messages) == {"inside_widht_in", "ends", "slope_percent", "manning_n", "length_ft"}
    assert "did you mean inside_width_in?" in messages["inside_widht_in"]
    assert "one of one_open, two_open, piped" in messages["ends"]
    assert "has no value" in messages["length_ft"]


def test_certainty_is_measured_or_assumed_and_never_claimed_by_silence():
    kind = registry.get("gravity_pipe")
    known = clean_dimensions(kind, {"length_ft": 20, "inside_diameter_in": 4}, {"length_ft": "measured"})
    assert known.certainty == {"length_ft": "measured", "inside_diameter_in": "assumed"}
    assert "measured or assumed" in refused("gravity_pipe", {"length_ft": 20}, {"length_ft": "guessed"})["length_ft"]
    assert "not a dimension" in refused("gravity_pipe", {}, {"colour": "measured"})["colour"]


@pytest.mark.parametrize(
    ("code", "values", "field"),
    [
        ("channel_run", {"inside_depth_in": 4, "freeboard_in": 4}, "freeboard_in"),
        ("catch_basin", {"depth_in": 12, "invert_above_bottom_in": 12}, "invert_above_bottom_in"),
        ("catch_basin", {"inside_diameter_in": 12, "inside_width_in": 12}, "inside_diameter_in"),
        ("sump_basin", {"on_above_bottom_in": 6.9, "off_above_bottom_in": 6}, "on_above_bottom_in"),
        ("sump_basin", {"depth_in": 20, "on_above_bottom_in": 21}, "on_above_bottom_in"),
        ("grate", {"diameter_in": 12, "width_in": 5}, "diameter_in"),
        ("outfall", {"kind": "pump"}, "kind"),
    ],
)
def test_impossible_combinations_are_refused(code, values, field):
    assert field in refused(code, values)


def test_on_level_may_lie_exactly_one_inch_above_off():
    clean_dimensions(registry.get("sump_basin"), {"on_above_bottom_in": 7, "off_above_bottom_in": 6})


@pytest.mark.parametrize(
    "curve",
    [
        [(0, 25), (35, 18)],
        [(0, 25), (35, 18), (35, 5)],
        [(0, 25), (35, 26), (60, 5)],
        [(0, 25), (35, 18), (60, -1)],
        [(0, math.inf), (35, 18), (60, 5)],
    ],
)
def test_a_pump_curve_has_three_points_flow_rising_head_falling(curve):
    points = [{"flow_gpm": flow, "head_ft": head} for flow, head in curve]
    assert "flow" in refused("pump", {"curve": points})["curve"]


def test_reading_ignores_unknown_keys_and_out_of_range_values():
    kind = registry.get("channel_run")
    values = {"inside_width_in": 900, "color": "grey", "length_ft": None}
    read = read_dimensions(kind, values, {"color": "measured", "inside_width_in": "measured"})
    assert read == Known({"inside_width_in": 900}, {"inside_width_in": "measured"})


def test_reading_an_older_version_upgrades_it_and_a_renamed_value_counts_as_assumed():
    def upgrade(old_version, values):
        changed = dict(values)
        if old_version < 2 and "bore_in" in changed:
            changed["inside_diameter_in"] = changed.pop("bore_in")
        return changed

    newer = dataclasses.replace(registry.get("clean_out"), version=2, upgrade=upgrade)
    old = {"bore_in": 6, "two_way": True}
    read = read_dimensions(newer, old, {"bore_in": "measured", "two_way": "measured"}, version=1)
    assert read.values == {"inside_diameter_in": 6, "two_way": True}
    assert read.certainty == {"inside_diameter_in": "assumed", "two_way": "measured"}
    assert old == {"bore_in": 6, "two_way": True}


@pytest.mark.parametrize(
    ("code", "version"), [(kind.code, number) for kind in registry.ALL for number in range(1, kind.version + 1)]
)
def test_a_stored_example_of_each_version_loads_for_ever(code, version):
    example = stored(code, version)
    kind = registry.get(code)
    read = read_dimensions(kind, example["dimensions"], example["certainty"], version=version)
    assert read.values.keys() == read.certainty.keys()
    if version == kind.version:
        shown = {item.name for item in fields(kind)} - ROUND_ONLY.get(code, set())
        assert set(read.values) == shown, "the example of the present version shows every dimension"
        assert clean_dimensions(kind, read.values, read.certainty) == read
        jsonschema.Draft202012Validator(json_schema(kind)).validate({"kind": code, **example["dimensions"]})


@pytest.mark.parametrize("code", CODES)
def test_schema_itself_is_valid_and_refuses_another_kind_or_key(code):
    schema = json_schema(registry.get(code))
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    assert validator.is_valid({"kind": code})
    assert not validator.is_valid({})
    assert not validator.is_valid({"kind": "moat"})
    assert not validator.is_valid({"kind": code, "color": "grey"})


def one_value(item):
    if item.type == "number":
        return st.floats(item.low, item.high, allow_nan=False)
    if item.type == "whole":
        return st.integers(int(item.low), int(item.high))
    if item.type == "choice":
        return st.sampled_from(sorted(item.choices))
    if item.type == "yes_no":
        return st.booleans()
    return st.just([{"flow_gpm": 0, "head_ft": 25}, {"flow_gpm": 35, "head_ft": 18}, {"flow_gpm": 60, "head_ft": 5}])


@st.composite
def kind_and_values(draw):
    kind = draw(st.sampled_from(registry.ALL))
    chosen = draw(st.sets(st.sampled_from([item.name for item in fields(kind)])))
    return kind, {item.name: draw(one_value(item)) for item in fields(kind) if item.name in chosen}


@given(kind_and_values())
@settings(derandomize=True, max_examples=300, deadline=None)
def test_values_in_range_are_kept_exactly_and_survive_storing(pair):
    kind, values = pair
    if kind.check(values):
        with pytest.raises(DimensionError):
            clean_dimensions(kind, values)
        return
    known = clean_dimensions(kind, values)
    assert known.values == values
    again = json.loads(json.dumps(known.values, allow_nan=False))
    assert read_dimensions(kind, again, known.certainty) == known
    assert clean_dimensions(kind, again, known.certainty) == known


@given(kind_and_values(), st.data())
@settings(derandomize=True, max_examples=200, deadline=None)
def test_a_number_beyond_either_limit_is_refused(pair, data):
    kind, values = pair
    numbers = [item for item in fields(kind) if item.type == "number"]
    if not numbers:
        return
    item = data.draw(st.sampled_from(numbers))
    beyond = data.draw(st.sampled_from([math.nextafter(item.low, -math.inf), math.nextafter(item.high, math.inf)]))
    with pytest.raises(DimensionError) as caught:
        clean_dimensions(kind, {**values, item.name: beyond})
    assert item.name in {problem.field for problem in caught.value.problems}


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=5,
)


@given(st.sampled_from(registry.ALL), st.data())
@settings(derandomize=True, max_examples=300, deadline=None)
def test_any_json_is_either_taken_or_refused_with_a_message(kind, data):
    names = st.sampled_from([item.name for item in fields(kind)]) | st.text(max_size=12)
    values = data.draw(st.dictionaries(names, json_values, max_size=4))
    problems, known = (), None
    try:
        known = clean_dimensions(kind, values)
    except DimensionError as error:
        problems = error.problems
    assert (known is None) == bool(problems)
    assert all(problem.message and len(problem.message) < 1000 for problem in problems)
    json.dumps(known and known.values, allow_nan=False)


def test_assumptions_fill_what_is_unknown_and_say_so():
    kind = registry.get("gravity_pipe")
    known = clean_dimensions(kind, {"inner_wall": "corrugated", "length_ft": 30}, {"length_ft": "measured"})
    filled = fill_assumptions(kind, known)
    # Plastic corrugated interior .022: Caltrans Highway Design Manual, Table 851.2.
    assert filled.values["manning_n"] == 0.022
    assert filled.assumed == {"inner_wall", "manning_n", "inside_diameter_in", "slope_percent"}
    assert filled.missing == ()


def test_a_known_value_is_never_replaced_by_an_assumption():
    kind = registry.get("outfall")
    known = clean_dimensions(kind, {"outlet_kind": "pop_up", "opening_head_in": 3}, {"opening_head_in": "measured"})
    filled = fill_assumptions(kind, known)
    assert filled.values["opening_head_in"] == 3
    assert "opening_head_in" not in filled.assumed
    assert filled.values["tailwater_in"] == 0


def test_what_the_rating_needs_is_named_when_it_is_missing():
    missing = fill_assumptions(registry.get("discharge_line"), Known({}, {})).missing
    assert {item.name for item in missing} == {"length_ft", "static_lift_ft"}


def test_assumed_curves_are_copies():
    kind = registry.get("pump")
    fill_assumptions(kind, Known({}, {})).values["curve"].clear()
    assert len(fill_assumptions(kind, Known({}, {})).values["curve"]) == 3
