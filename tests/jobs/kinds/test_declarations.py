"""Every kind's declaration is whole and fits the others."""

import re

import pytest

from jobs.kinds import registry, words
from jobs.kinds.dimensions import Known, field_by_name, fields, fill_assumptions, json_schema
from tests.jobs.kinds.snapshots import SCHEMAS, schema_file, schema_text

CODES = [kind.code for kind in registry.ALL]

# The kinds of the register's vocabulary, and the two sub-parts.
FOURTEEN = {
    "channel_run",
    "catch_basin",
    "french_drain",
    "downspout_leader",
    "gravity_pipe",
    "clean_out",
    "sump_basin",
    "pump",
    "check_valve",
    "discharge_line",
    "outfall",
    "dry_well",
    "backup_battery",
    "high_water_alarm",
}

UNIT_ENDINGS = {
    "in": "_in",
    "ft": "_ft",
    "%": "_percent",
    "gpm": "_gpm",
    "hp": "_hp",
    "A": "_a",
    "V": "_v",
    "Ah": "_ah",
    "ft3": "_ft3",
    "in/h": "_in_per_h",
    "1/h": "_per_hour",
}


def test_the_fourteen_kinds_and_two_sub_parts_are_there():
    assert {kind.code for kind in registry.ALL if not kind.is_part} == FOURTEEN
    assert {kind.code for kind in registry.ALL if kind.is_part} == {"grate", "float"}
    assert len(registry.BY_CODE) == len(registry.ALL)


def test_unknown_code_names_the_codes_there_are():
    with pytest.raises(registry.UnknownKind, match="channel_run, catch_basin"):
        registry.get("moat")


@pytest.mark.parametrize("code", CODES)
def test_codes_a_declaration_names_exist(code):
    kind = registry.get(code)
    for other in kind.may_feed | kind.sits_in | kind.part_of:
        assert other in registry.BY_CODE
    assert set(kind.tasks) <= set(words.TASKS)
    asked = {task for reading in kind.readings for task in reading.tasks}
    assert asked <= set(kind.tasks)
    assert set(kind.tasks) <= asked, "each task asks at least for a note"
    names = field_by_name(kind)
    symbol = kind.symbol
    for name in (kind.bore, symbol.width, symbol.length, symbol.diameter):
        assert not name or name in names
    if kind.silt:
        assert names[kind.silt.dimension].unit == "in"
        assert not kind.silt.only_if or names[kind.silt.only_if].type == "yes_no"
        assert {"silt_depth_in", "silt_left_in", "grade"} <= {reading.code for reading in kind.readings}
    assert kind.checklist
    assert kind.plain_words


def test_tag_prefixes_are_unique_and_only_sub_parts_have_none():
    prefixes = [kind.tag_prefix for kind in registry.ALL if not kind.is_part]
    assert len(set(prefixes)) == len(FOURTEEN)
    assert all(re.fullmatch(r"[A-Z]{2}", prefix) for prefix in prefixes)
    assert all(not kind.tag_prefix for kind in registry.ALL if kind.is_part)


@pytest.mark.parametrize("code", CODES)
def test_each_dimension_says_unit_range_and_help(code):
    for item in fields(registry.get(code)):
        assert item.label
        assert item.help
        if item.unit and item.type == "number":
            assert item.name.endswith(UNIT_ENDINGS[item.unit])
        if item.type in ("number", "whole"):
            assert item.low < item.high
            if item.assumed is not None:
                assert item.low <= item.assumed <= item.high
        if item.type == "choice" and item.assumed is not None:
            assert item.assumed in item.choices
        if item.assumed_by:
            chooser = field_by_name(registry.get(code))[item.assumed_by[0]]
            assert set(item.assumed_by[1]) == set(chooser.choices)
            assert all(item.low <= value <= item.high for value in item.assumed_by[1].values())


@pytest.mark.parametrize("code", CODES)
def test_choice_words_name_exactly_the_codes_taken(code):
    kind = registry.get(code)
    properties = json_schema(kind)["properties"]
    for item in fields(kind):
        if item.type == "choice":
            assert set(properties[item.name]["enum"]) == set(item.choices) | {None}


@pytest.mark.parametrize("code", CODES)
def test_assumptions_together_pass_the_kinds_own_checks(code):
    kind = registry.get(code)
    filled = fill_assumptions(kind, Known({}, {}))
    assert kind.check(filled.values) == []
    assert all(item.needed for item in filled.missing)


@pytest.mark.parametrize("code", CODES)
def test_schema_is_the_kept_one(code):
    assert schema_text(code) == schema_file(code).read_text(encoding="utf-8"), (
        "the schema changed: raise the kind's version with an upgrade, or run python -m tests.jobs.kinds.snapshots"
    )
    assert json_schema(registry.get(code))["properties"]["kind"] == {"const": code, "type": "string", "title": "Kind"}


def test_every_past_version_has_a_kept_schema():
    kept = {path.name for path in SCHEMAS.iterdir()}
    wanted = {f"{kind.code}.v{n}.json" for kind in registry.ALL for n in range(1, kind.version + 1)}
    assert kept == wanted


def test_grades_are_cut_at_the_eighths_and_leave_no_gap():
    # Cuts 1/8, 3/8, 5/8, 7/8, full up to 1: the company's own definition of judging by eye.
    grades = list(words.GRADES.values())
    assert [grade.high for grade in grades] == [1 / 8, 3 / 8, 5 / 8, 7 / 8, 1.0, None]
    assert [grade.low for grade in grades] == [0.0, 1 / 8, 3 / 8, 5 / 8, 7 / 8, 1.0]


def test_grade_codes_are_those_the_forecast_counts():
    from maintenance.forecast.records import GRADES

    assert tuple(words.GRADES) == GRADES


def test_tasks_that_stand_for_others_exist():
    for task in words.TASKS.values():
        assert set(task.also_done_by) <= set(words.TASKS)
        assert task.code not in task.also_done_by
