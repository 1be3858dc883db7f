"""Every starting layout makes a sound system from its numbers."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.decide import layouts
from jobs.decide.graph import check_graph
from jobs.decide.graph_records import tag_key
from jobs.kinds import registry
from jobs.kinds.dimensions import Known, clean_dimensions, fill_assumptions

CODES = [layout.code for layout in layouts.ALL]


def kinds_of(draft):
    return sorted(item.kind for item in draft.components)


@pytest.mark.parametrize("code", CODES)
def test_six_numbers_are_asked_and_the_usual_ones_make_a_sound_system(code):
    assert len(layouts.get(code).asks) == 6
    draft = layouts.draft(code, {})
    assert check_graph(*draft.graph()) == ()
    assert draft.areas


@pytest.mark.parametrize("code", CODES)
def test_nothing_the_rating_needs_is_missing(code):
    for item in layouts.draft(code, {}).components:
        kind = registry.get(item.kind)
        assert fill_assumptions(kind, Known(dict(item.dims), dict(item.certainty))).missing == ()
        assert clean_dimensions(kind, item.dims, item.certainty).values == item.dims


def test_channel_to_pumped_sump_to_curb_holds_what_such_a_system_holds():
    draft = layouts.draft("channel_pumped_curb", {"channel_length_ft": 30})
    assert kinds_of(draft) == sorted(
        [
            "channel_run",
            "grate",
            "sump_basin",
            "pump",
            "float",
            "high_water_alarm",
            "check_valve",
            "discharge_line",
            "outfall",
        ]
    )
    channel = draft.components[0]
    # A channel runs level: common practice, no source.
    assert channel.dims["slope_percent"] == 0
    grate = next(item for item in draft.components if item.kind == "grate")
    assert grate.dims["length_in"] == 360


def test_two_sumps_share_a_channel_open_at_both_ends():
    draft = layouts.draft("two_sumps", {})
    assert draft.components[0].dims["ends"] == "two_open"
    assert sum(item.kind == "pump" for item in draft.components) == 2
    assert sum(connection.source == draft.components[0].key for connection in draft.connections) == 2


@pytest.mark.parametrize(("code", "count", "kind"), [("leaders_pop_up", "downspouts", "downspout_leader")])
def test_counts_make_that_many_and_share_the_area(code, count, kind):
    draft = layouts.draft(code, {count: 5, "roof_area_ft2": 1000})
    assert kinds_of(draft).count(kind) == 5
    assert [area.area_ft2 for area in draft.areas] == [200] * 5


def test_tags_go_on_from_those_already_used():
    draft = layouts.draft("basins_gravity_curb", {"basins": 2}, taken_tags=["cb-1", "GP-2 "])
    tags = [item.tag for item in draft.components if item.tag]
    assert tags == ["CB-2", "GP-1", "CB-3", "GP-3", "OF-1"]


def test_only_numbers_given_as_measured_are_marked_measured():
    draft = layouts.draft("channel_pumped_curb", {"channel_length_ft": 33.5}, certainty="measured")
    channel = draft.components[0]
    assert channel.certainty["length_ft"] == "measured"
    assert set(channel.certainty.values()) == {"measured", "assumed"}
    assert channel.certainty["inside_width_in"] == "assumed", "a usual number nobody gave is not measured"
    rest = [sure for item in draft.components[1:] for sure in item.certainty.values()]
    assert set(rest) == {"assumed"}
    plain = layouts.draft("channel_pumped_curb", {"channel_length_ft": 33.5})
    assert set(plain.components[0].certainty.values()) == {"assumed"}


@pytest.mark.parametrize(
    ("numbers", "message"),
    [
        ({"channel_length_ft": -1}, "channel_length_ft is -1: give a number from 1 to 500 ft."),
        ({"channel_length_ft": float("nan")}, "channel_length_ft is nan: give a number from 1 to 500 ft."),
        ({"channel_length_ft": "40"}, "channel_length_ft is '40': give a number from 1 to 500 ft."),
        ({"channel_length_ft": True}, "channel_length_ft is True: give a number from 1 to 500 ft."),
        ({"moat_ft": 3}, "moat_ft is not asked by"),
    ],
)
def test_numbers_out_of_range_are_refused_by_name(numbers, message):
    with pytest.raises(layouts.LayoutError) as caught:
        layouts.draft("channel_pumped_curb", numbers)
    assert message in str(caught.value)


def test_counts_are_whole_and_codes_are_known():
    with pytest.raises(layouts.LayoutError, match="a whole number from 1 to 12"):
        layouts.draft("basins_gravity_curb", {"basins": 2.5})
    with pytest.raises(layouts.LayoutError, match="channel_pumped_curb"):
        layouts.get("moat")


@st.composite
def layout_numbers(draw):
    layout = draw(st.sampled_from(layouts.ALL))
    numbers = {}
    for ask in layout.asks:
        values = st.integers(int(ask.low), int(ask.high)) if ask.whole else st.floats(ask.low, ask.high)
        numbers[ask.name] = draw(values)
    return layout.code, numbers


@given(layout_numbers())
@settings(derandomize=True, max_examples=150, deadline=None)
def test_any_numbers_in_range_make_a_system_that_can_be_handed_over(pair):
    code, numbers = pair
    draft = layouts.draft(code, numbers)
    problems = check_graph(*draft.graph())
    # A chosen slope from 0.5 to 1 % is worth its warning; nothing else may be said.
    assert {problem.code for problem in problems} <= {"slope_low"}
    tags = [tag_key(item.tag) for item in draft.components if item.tag]
    assert len(set(tags)) == len(tags)
    known = set()
    for item in draft.components:
        assert item.sits_in in known | {""}
        assert item.part_of in known | {""}
        known.add(item.key)
