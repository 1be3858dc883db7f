"""The rule library is whole, says its sources, and is refused with a clear message where it is wrong."""

import dataclasses
import json
import re

import pytest

from jobs.kinds import registry
from jobs.kinds.words import OWNER_SAFETY
from maintenance.decide import rule_numbers
from maintenance.decide.rule_library import (
    RuleLibraryError,
    clean_rule,
    forecast_rule,
    homeowner_words,
    load_library,
)
from maintenance.decide.rule_numbers import RuleNumbersError, clean_numbers, forecast_numbers
from maintenance.forecast import records

LIBRARY = load_library()
BY_CODE = {rule.code: rule for rule in LIBRARY}

GOOD = {
    "code": "channel_monthly",
    "kind": "channel_run",
    "task": "clean",
    "basis": "calendar",
    "standing": "fallback",
    "numbers": {"every_months": 1.0},
    "minutes": 30,
    "words_office": "Clean every month",
    "words_homeowner": "Cleaned every month.",
    "source": "assumption",
}

RULE = """
[[rule]]
code = "{code}"
kind = "channel_run"
task = "clean"
basis = "{basis}"
standing = "fallback"
numbers = {numbers}
minutes = 30
words_office = "Clean every month"
words_homeowner = "Cleaned every month."
source = "{source}"
"""


def rule_text(code="channel_monthly", basis="calendar", numbers="{ every_months = 1.0 }", source="assumption"):
    return RULE.format(code=code, basis=basis, numbers=numbers, source=source)


def problems_of(change):
    with pytest.raises(RuleLibraryError) as caught:
        clean_rule({**GOOD, **change})
    return caught.value.problems


# --- what the library holds ------------------------------------------------------------------------------------------


def test_every_kind_has_a_rule_in_use():
    assert {rule.kind for rule in LIBRARY if rule.active} == {kind.code for kind in registry.ALL}


def test_each_kind_that_silts_or_wears_has_its_rules():
    for kind in registry.ALL:
        mine = [rule for rule in LIBRARY if rule.kind == kind.code and rule.active]
        if kind.silt:
            assert any(rule.basis == "silt" for rule in mine), kind.code
        if kind.wears:
            purposes = {rule.numbers["purpose"] for rule in mine if rule.basis == "wear"}
            assert purposes == {"test", "replace"}, kind.code


def test_all_bases_both_standings_and_both_doers_occur():
    assert {rule.basis for rule in LIBRARY} == {"calendar", "season", "silt", "wear", "storm"}
    assert {rule.standing for rule in LIBRARY} == {"firm", "fallback"}
    assert {rule.who for rule in LIBRARY} == {"crew", "owner"}


def test_owner_tasks_are_the_four_small_ones_and_carry_the_safety_words():
    owner = [rule for rule in LIBRARY if rule.who == "owner"]
    assert {rule.task for rule in owner} == {"clear_grate", "pour_bucket", "clear_outfall", "test_alarm"}
    for rule in owner:
        assert rule.words_homeowner.endswith(OWNER_SAFETY)
        assert len(rule.words_homeowner) <= 400
    for said in ("Adults only", "daylight", "never during a storm", "flood", "lightning", "never reach under a grate"):
        assert said in OWNER_SAFETY
    assert "into a sump" in OWNER_SAFETY


def test_crew_rules_do_not_carry_the_owners_safety_words():
    assert all(OWNER_SAFETY not in rule.words_homeowner for rule in LIBRARY if rule.who == "crew")


def test_every_source_is_published_common_practice_or_an_assumption():
    for rule in LIBRARY:
        published = re.search(r"\b(19|20)\d\d\b|year not seen", rule.source)
        assert published or rule.source.startswith(("common practice, no source", "assumption")), rule.code
        assert "http" not in rule.source
        assert "www" not in rule.source


def test_a_calendar_rule_is_only_firm_where_safety_asks():
    # Silt decides in time for all that silts; what fails unseen and the owner's share stay firm.
    for rule in LIBRARY:
        if rule.basis == "calendar" and rule.standing == "firm":
            assert rule.who == "owner" or registry.get(rule.kind).wears, rule.code


def test_pump_is_tested_in_the_twelve_weeks_before_the_wet_season():
    numbers = BY_CODE["pump_before_wet_season"].numbers
    assert numbers == {"anchor": "wet_season", "opens_days": -7 * 12, "closes_days": 0}


def test_grate_default_is_half_blocked_by_common_practice_and_names_the_municipal_limit():
    # Half blocked: common practice, no source. Municipal 10 %: Snohomish County Drainage Manual 2010, vol. V.
    rule = BY_CODE["grate_half_yearly_look"]
    assert "half blocked" in rule.words_office
    assert rule.source.startswith("common practice, no source")
    assert "10 %" in rule.source


def test_the_library_maps_to_the_forecasts_record():
    for rule in LIBRARY:
        made = forecast_rule(rule, id="r1", version=3, property_id=5)
        assert (made.id, made.version, made.property_id, made.component_id) == ("r1", 3, 5, None)
        assert (made.kind, made.task, made.basis, made.firmness) == (rule.kind, rule.task, rule.basis, rule.standing)
        assert made.enabled == rule.active
        stored = json.loads(json.dumps(rule.numbers))
        assert forecast_numbers(rule.basis, stored) == made.numbers
        given = {name: value for name, value in dataclasses.asdict(made.numbers).items() if name in rule.numbers}
        assert given == rule.numbers


def test_a_sumps_silt_rule_needs_a_pump_and_replacing_counts_as_cleaning():
    assert forecast_rule(BY_CODE["sump_half_to_intake"]).needs_pump
    assert not forecast_rule(BY_CODE["sump_half_yearly"]).needs_pump
    assert not forecast_rule(BY_CODE["channel_third"]).needs_pump
    assert forecast_rule(BY_CODE["catch_basin_half_yearly_look"]).also_done_by == ("clean", "replace")


@pytest.mark.parametrize("basis", list(rule_numbers.MODELS))
def test_number_models_mirror_the_forecasts_records(basis):
    frozen = {field.name: field.default for field in dataclasses.fields(records.NUMBERS[basis])}
    model = rule_numbers.MODELS[basis].model_fields
    assert list(model) == list(frozen)
    for name, info in model.items():
        assert info.is_required() == (frozen[name] is dataclasses.MISSING)
        if not info.is_required():
            assert info.default == frozen[name]


# --- what is refused -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"kind": "moat"}, "kind: is 'moat'; give one of channel_run"),
        ({"task": "polish"}, "task: is 'polish'; give one of clean"),
        ({"task": "test_pump"}, "rule: task is 'test_pump': a channel run takes one of clean"),
        ({"source": "a leaflet"}, "source: is 'a leaflet'; give a published source with its number"),
        ({"minutes": 0}, "minutes: is 0;"),
        ({"minutes": 5.5}, "minutes: is 5.5;"),
        ({"who": "neighbor"}, "who: is 'neighbor';"),
        ({"code": "Channel Monthly"}, "code: is 'Channel Monthly';"),
        ({"color": "grey"}, "color: is not a field of a rule; remove it"),
        ({"basis": "moon"}, "basis: is 'moon';"),
        ({"numbers": {}}, "every_months: is missing: give it"),
        ({"numbers": {"every_months": 0.0}}, "every_months: is 0.0: input should be greater than or equal to 0.25"),
        ({"numbers": {"every_months": float("nan")}}, "every_months: is nan: input should be a finite number"),
        ({"numbers": {"every_months": 1.0, "limit_fill": 0.5}}, "limit_fill: is not a number of this basis: remove it"),
        ({"basis": "wear", "numbers": {"purpose": "test", "median_life_years": 9.0, "shape": 2.0}}, "no life to wear"),
        ({"basis": "silt", "task": "look", "numbers": {"limit_fill": 0.5}}, "for the task clean"),
        ({"words_office": "x" * 301}, "words_office:"),
    ],
)
def test_a_wrong_rule_is_refused_naming_the_field(change, message):
    assert any(message in problem for problem in problems_of(change)), problems_of(change)


def test_several_problems_are_told_at_once():
    told = problems_of({"kind": "moat", "minutes": 0, "numbers": {"every_months": "often"}})
    assert {problem.split(":")[0] for problem in told} == {"kind", "minutes", "every_months"}


@pytest.mark.parametrize(
    ("basis", "numbers", "field"),
    [
        ("season", {"anchor": "freeze", "opens_days": 0, "closes_days": 0}, "closes_days"),
        ("season", {"anchor": "freeze", "opens_days": 0, "closes_days": 9, "month": 3}, "month"),
        ("silt", {"limit_fill": 0.1}, "limit_fill"),
        ("silt", {"limit_fill": 1.1}, "limit_fill"),
        (
            "wear",
            {"purpose": "replace", "median_life_years": 9.0, "shape": 2.0, "unavailability": 0.1},
            "unavailability",
        ),
        ("wear", {"purpose": "test", "median_life_years": 9.0, "shape": 2.0, "cost_ratio": 3.0}, "cost_ratio"),
        ("storm", {"within_days": -1}, "within_days"),
        ("moon", {}, "basis"),
    ],
)
def test_numbers_that_cannot_be_are_refused(basis, numbers, field):
    with pytest.raises(RuleNumbersError, match=field):
        clean_numbers(basis, numbers)


def test_numbers_are_kept_as_given_without_defaults():
    assert clean_numbers("storm", {"within_days": 3, "least_share": None}) == {"within_days": 3}
    assert forecast_numbers("storm", {"within_days": 3}) == records.StormNumbers(within_days=3)


def test_owner_words_are_added_once():
    once = homeowner_words("Sweep the grate.", "owner")
    assert once == f"Sweep the grate. {OWNER_SAFETY}"
    assert homeowner_words(once, "owner") == once
    assert homeowner_words("Sweep the grate.", "crew") == "Sweep the grate."


def test_errors_of_a_file_name_file_rule_and_field(tmp_path):
    (tmp_path / "a.toml").write_text(rule_text() + rule_text(code="too_often", numbers="{ every_months = 0.0 }"))
    (tmp_path / "b.toml").write_text(rule_text() + rule_text(code="hearsay", source="a leaflet"))
    (tmp_path / "c.toml").write_text("[[rule]\n")
    (tmp_path / "d.toml").write_text('name = "x"\n')
    (tmp_path / "e.toml").write_text("[[rule]]\nminutes = 3\n")
    with pytest.raises(RuleLibraryError) as caught:
        load_library(tmp_path)
    told = caught.value.problems
    assert any(line.startswith("a.toml, rule too_often, every_months: is 0.0") for line in told)
    assert any(line.startswith("b.toml, rule channel_monthly, code: is used twice") for line in told)
    assert any(line.startswith("b.toml, rule hearsay, source: is 'a leaflet'") for line in told)
    assert any(line.startswith("c.toml: cannot be read") for line in told)
    assert any(line.startswith("d.toml: give [[rule]] tables") for line in told)
    assert "e.toml, rule number 1, kind: is missing; give it" in told


def test_a_sound_file_is_read(tmp_path):
    (tmp_path / "a.toml").write_text(rule_text())
    assert [rule.code for rule in load_library(tmp_path)] == ["channel_monthly"]
