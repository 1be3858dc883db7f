"""Which parts silt, how deep silt can lie in them, and which rows stand for nothing fitted."""

import pytest

from jobs.kinds import registry


def test_which_parts_silt_and_what_holds_it():
    # Basins: bottom to the lowest outlet invert, or to the pump's intake; never the basin's whole depth.
    assert {kind.code: kind.silt.dimension for kind in registry.ALL if kind.silt} == {
        "channel_run": "inside_depth_in",
        "catch_basin": "invert_above_bottom_in",
        "french_drain": "inside_diameter_in",
        "gravity_pipe": "inside_diameter_in",
        "sump_basin": "pump_intake_above_bottom_in",
    }


def test_a_french_drain_is_watched_only_through_a_clean_out():
    assert {kind.code: kind.silt.only_if for kind in registry.ALL if kind.silt and kind.silt.only_if} == {
        "french_drain": "clean_out_fitted"
    }


def test_how_capacity_falls_with_fill():
    falls = {kind.code: kind.capacity_falls for kind in registry.ALL if kind.capacity_falls != "none"}
    assert falls == {
        "channel_run": "layer",
        "french_drain": "layer",
        "gravity_pipe": "layer",
        "sump_basin": "pump_intake",
    }


def test_what_wears_and_fails_unseen():
    wearing = {"pump", "float", "check_valve", "backup_battery", "high_water_alarm"}
    assert {kind.code for kind in registry.ALL if kind.wears} == wearing


@pytest.mark.parametrize(
    ("values", "there"), [({}, True), ({"valve_type": "ball"}, True), ({"valve_type": "none_fitted"}, False)]
)
def test_a_valve_recorded_as_none_fitted_is_not_there(values, there):
    assert registry.get("check_valve").is_there(values) is there
    assert registry.get("pump").is_there(values)
