"""Rules: the library goes in once, every change is a version, overrides hold for one place and can be taken back."""

from datetime import timedelta

import pytest

from core.act import Act, by_system, by_user
from core.models import History
from core.problem import BadInput, Conflict, StaleVersion
from maintenance import rules
from maintenance.decide.rule_library import LibraryRule, load_library
from maintenance.models import Rule, RuleOverride, RuleVersion
from maintenance.read.rules import forecast_rules, in_force, overrides_in_force, versions_of
from tests.factories import AT, ComponentFactory, OfficeFactory

pytestmark = pytest.mark.django_db

OWN = {
    "kind": "catch_basin",
    "task": "clean",
    "basis": "calendar",
    "standing": "firm",
    "numbers": {"every_months": 6},
    "minutes": 30,
    "who": "crew",
    "words_office": "clean twice a year",
    "words_homeowner": "We clean this box twice a year.",
    "source": "common practice, no source",
}


def library_rule(**changes: object) -> LibraryRule:
    return LibraryRule.model_validate({**OWN, "code": "basin_twice_a_year", **changes})


@pytest.fixture
def act() -> Act:
    return by_user(OfficeFactory(), via="page", at=AT)


def later(act: Act, days: int) -> Act:
    return Act(who=act.who, role=act.role, at=act.at + timedelta(days=days), via=act.via, name=act.name)


def test_the_whole_library_goes_in_once(act: Act) -> None:
    wanted = load_library()
    first = rules.install_library(act=act)
    assert (first.added, first.renewed, first.kept) == (len(wanted), 0, 0)
    again = rules.install_library(act=later(act, 1))
    assert (again.added, again.renewed, again.kept) == (0, 0, 0)
    assert RuleVersion.objects.count() == Rule.objects.count() == len(wanted)
    assert {rule.code for rule in in_force(AT)} == {rule.code for rule in wanted}
    assert len(forecast_rules(in_force(AT), ())) == len(wanted)


def test_a_new_library_text_is_a_new_version(act: Act) -> None:
    rules.install_library(act=act, library=[library_rule()])
    renewed = rules.install_library(act=later(act, 10), library=[library_rule(numbers={"every_months": 4})])
    assert (renewed.added, renewed.renewed, renewed.kept) == (0, 1, 0)
    assert in_force(AT)[0].numbers == {"every_months": 6}
    newest = in_force(AT + timedelta(days=10))[0]
    assert (newest.numbers, newest.version) == ({"every_months": 4}, 2)


def test_a_new_library_text_leaves_what_the_company_changed(act: Act) -> None:
    rules.install_library(act=act, library=[library_rule()])
    rules.change_rule(act=later(act, 1), rule=Rule.objects.get(), minutes=45, why="two people")
    kept = rules.install_library(act=later(act, 10), library=[library_rule(numbers={"every_months": 4})])
    assert (kept.renewed, kept.kept) == (0, 1)
    assert in_force(AT + timedelta(days=20))[0].minutes == 45


def test_a_code_never_changes_its_meaning(act: Act) -> None:
    rules.install_library(act=act, library=[library_rule()])
    with pytest.raises(Conflict, match="new code"):
        rules.install_library(act=act, library=[library_rule(task="look")])


def test_every_change_keeps_author_date_and_why(act: Act) -> None:
    rules.install_library(act=act, library=[library_rule()])
    rule = Rule.objects.get()
    version = rules.change_rule(act=later(act, 3), rule=rule, numbers={"every_months": 3}, why="clay soil")
    assert (version.recorded_by, version.recorded_name, version.why) == (act.who, act.name, "clay soil")
    assert version.recorded_at == AT + timedelta(days=3)
    assert [v.numbers["every_months"] for v in versions_of(rule.pk)] == [3, 6]
    entry = History.objects.get(action="change", noun="rule")
    assert entry.changes == {"numbers": [{"every_months": 6}, {"every_months": 3}]}


def test_a_change_that_changes_nothing_writes_nothing(act: Act) -> None:
    rules.install_library(act=act, library=[library_rule()])
    before = RuleVersion.objects.get()
    assert rules.change_rule(act=later(act, 3), rule=before.rule, minutes=30).pk == before.pk
    assert RuleVersion.objects.count() == 1


def test_two_people_at_one_rule(act: Act) -> None:
    rules.install_library(act=act, library=[library_rule()])
    seen = RuleVersion.objects.get()
    rules.change_rule(act=later(act, 1), rule=seen.rule, minutes=31, version_id=seen.pk)
    with pytest.raises(StaleVersion):
        rules.change_rule(act=later(act, 2), rule=seen.rule, minutes=32, version_id=seen.pk)


@pytest.mark.parametrize(
    ("fields", "named"),
    [
        ({"minutes": 0}, "minutes"),
        ({"numbers": {"every_months": -1}}, "every_months"),
        ({"numbers": {"every": 6}}, "every"),
        ({"basis": "silt"}, "numbers"),
        ({"kind": "pump"}, "kind"),
        ({"source": "a friend"}, "source"),
    ],
)
def test_bad_values_are_named(act: Act, fields: dict[str, object], named: str) -> None:
    rules.install_library(act=act, library=[library_rule()])
    with pytest.raises(BadInput) as caught:
        rules.change_rule(act=act, rule=Rule.objects.get(), **fields)
    assert named in [problem.field for problem in caught.value.fields]
    assert RuleVersion.objects.count() == 1


def test_the_companys_own_rule(act: Act) -> None:
    first = rules.add_rule(act=act, why="asked for by the association", **OWN)
    second = rules.add_rule(act=act, **OWN)
    assert first.rule.origin == "company"
    assert first.rule.code != second.rule.code
    with pytest.raises(Conflict):
        rules.add_rule(act=act, **OWN, code=first.rule.code)
    with pytest.raises(BadInput) as caught:
        rules.add_rule(act=act, **{**OWN, "task": "test_pump"})
    assert caught.value.fields


def test_off_and_on_again(act: Act) -> None:
    rules.install_library(act=act, library=[library_rule()])
    rule = Rule.objects.get()
    rules.switch_off(act=later(act, 1), rule=rule, why="not here")
    rules.switch_on(act=later(act, 2), rule=rule)
    assert [in_force(AT + timedelta(days=n))[0].active for n in range(3)] == [True, False, True]


def test_an_override_holds_in_its_place_until_taken_back(act: Act) -> None:
    rules.install_library(act=act, library=[library_rule(numbers={"every_months": 6, "early_days": 20})])
    rule = Rule.objects.get()
    basin = ComponentFactory()
    place = {"rule": rule, "property": basin.property, "component": basin}
    row = rules.override_rule(act=later(act, 1), **place, numbers={"every_months": 2}, why="three oaks")
    basin.property.refresh_from_db()
    assert basin.property.revision == 2
    rules.end_override(act=later(act, 5), override=row)

    def holds(days: int) -> list[tuple[float, int | None, int | None, bool]]:
        at = AT + timedelta(days=days)
        found = forecast_rules(in_force(at), overrides_in_force(at, [basin.property_id]))
        return [(r.numbers.every_months, r.property_id, r.component_id, r.enabled) for r in found]

    assert holds(0) == holds(5) == [(6, None, None, True)]
    assert holds(1) == [(6, None, None, True), (2, basin.property_id, basin.pk, True)]
    assert RuleOverride.objects.count() == 2
    assert overrides_in_force(AT + timedelta(days=1), []) == ()


def test_a_rule_off_at_one_property(act: Act) -> None:
    rules.install_library(act=act, library=[library_rule()])
    basin = ComponentFactory()
    rules.override_rule(act=act, rule=Rule.objects.get(), property=basin.property, off=True)
    (row,) = overrides_in_force(AT, [basin.property_id])
    assert [r.enabled for r in forecast_rules(in_force(AT), [row])] == [True, False]


def test_overrides_that_cannot_be(act: Act) -> None:
    rules.install_library(act=act, library=[library_rule()])
    rule = Rule.objects.get()
    basin, elsewhere, pump = ComponentFactory(), ComponentFactory(), ComponentFactory(kind="pump", tag="PU-1")
    for wrong in (
        {"property": basin.property},
        {"property": basin.property, "numbers": {"every_months": 900}},
        {"property": basin.property, "component": elsewhere, "off": True},
        {"property": pump.property, "component": pump, "off": True},
    ):
        with pytest.raises(BadInput):
            rules.override_rule(act=act, rule=rule, **wrong)
    assert RuleOverride.objects.count() == 0


def test_rules_in_force_cost_one_query(act: Act, django_assert_num_queries) -> None:
    rules.install_library(act=by_system("test", at=AT))
    with django_assert_num_queries(1):
        in_force(AT)
