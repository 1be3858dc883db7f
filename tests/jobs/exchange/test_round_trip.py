"""An export imports back to the same register into an empty database, and its export is the same byte for byte."""

import random
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import pytest
from django.db import transaction
from hypothesis import Phase, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from core import act as acts
from jobs import change_component, connect, people, register
from jobs.access import grant
from jobs.drainage_areas import add_drainage_area
from jobs.exchange.apply import apply
from jobs.exchange.export import export_register
from jobs.exchange.validate import check
from jobs.hazards import add_hazard, hazard_gone
from jobs.kinds import registry
from jobs.kinds.dimensions import DimensionError, clean_dimensions, fields
from jobs.models import Component, Customer, Property
from jobs.replace_component import replace_component, retire_component
from jobs.starting_layouts import apply_layout
from tests.factories import AT, french_drain_to_outfall, half_known, make_cast, roof_to_dry_well
from tests.factories import channel_to_sump as sump_yard
from tests.jobs.exchange.files import MODELS, office, register_as_kept
from tests.jobs.exchange.made_register import write_register

pytestmark = pytest.mark.django_db


class _Undone(Exception):
    """Leaves a transaction so that nothing of it stays."""


def rebuilt(data: bytes, **options: bool) -> tuple[dict, bytes]:
    """The register as kept, and its export, after `data` was applied to an empty database; then all is undone."""
    result: list = []
    try:
        with transaction.atomic():
            _empty()
            apply(act=office(), data=data)
            result = [_without_history(register_as_kept()), export_register(act=office(), **options)]
            again = check(act=office(), data=data)
            assert (again.problem_count, again.changes) == (0, ())
            assert not any(count.add or count.remove for count in again.counts.values())
            raise _Undone
    except _Undone:
        return result[0], result[1]


def _empty() -> None:
    for model in reversed(MODELS):
        if model.__name__ != "History":
            model._default_manager.all().delete()


def _without_history(kept: dict) -> dict:
    """What a file carries: neither the history, nor revisions, nor the versions before the last."""
    for name in ("history", "versions"):
        kept.pop(name)
    for records in kept.values():
        for record in records:
            for field in ("revision", "created_at", "kind_version", "area_id"):
                record.pop(field, None)
    return kept


def assert_comes_back(**options: bool) -> None:
    """Export, import into nothing, compare; through CSV and through XLSX."""
    kept = _without_history(register_as_kept())
    data = export_register(act=office(), **options)
    for written in (data, export_register(act=office(), file_format="xlsx", **options)):
        again, exported = rebuilt(written, **options)
        for noun, records in kept.items():
            assert again[noun] == records
        assert exported == data
    here = check(act=office(), data=data)
    assert (here.problem_count, here.changes) == (0, ())


def test_ready_made_yards_come_back():
    home = sump_yard().property
    sump_yard(home, number=2)
    french_drain_to_outfall()
    roof_to_dry_well()
    half_known()
    for home in Property.objects.all():
        search = register.property_search(vars(home))
        Property.objects.filter(pk=home.pk).update(search=search)
    assert_comes_back()


def test_a_made_file_comes_back(tmp_path):
    path = tmp_path / "register.csv"
    rows = write_register(path, rows=60, seed=3)
    apply(act=office(), data=path.read_bytes())
    assert Component.objects.count() == len(rows) == 60
    assert_comes_back()


def test_an_old_yard_with_replaced_and_retired_parts_comes_back():
    act = office()
    home = register.create_property(
        act=act,
        address="=7 Cistern Row",
        plan={"outline": [[0, 0], [30.5, 0]], "a": {"é": 1}},
        gate_code="-4411",
        lat=41.123456789012345,
        lon=-74.0,
        note="first line\r\nsecond; \"quoted\", 'so'",
    )
    register.change_property(
        act=act, property=home, revision=home.revision, closed_at=datetime(2026, 1, 2, 3, 4, 5, 678, UTC)
    )
    register.create_system(act=act, property=home, name="empty of parts", target_return_years=2.33)
    system = register.create_system(act=act, property=home, name="unknown", ours=False, warranty_until=date(1950, 1, 1))
    at = {"act": act, "property": home, "system": system}
    basin = change_component.add_component(**at, kind="sump_basin", tag='A;"B"', installed_on=date(2015, 1, 1))
    pump = change_component.add_component(
        **at,
        kind="pump",
        tag="'=PU",
        sits_in=basin,
        dimensions={"curve": [{"flow_gpm": float(n), "head_ft": 20.5 - n} for n in range(3)]},
        certainty={"curve": "measured"},
    )
    change_component.add_component(**at, kind="float", part_of=pump, sits_in=basin)
    bare = change_component.add_component(**at, kind="outfall", note="found under turf")
    other = change_component.add_component(**at, kind="outfall", tag="~x", place=[[0, -0.1], [1e-7, 4]])
    connect.connect(act=act, from_component=basin, to_component=pump)
    connect.connect(act=act, from_component=basin, to_component=bare, kind="overflow", certainty="measured")
    connect.connect(act=act, from_component=basin, to_component=other, kind="overflow")
    add_drainage_area(act=act, component=basin, surface="lawn", area_ft2=10.25, runoff_c=0.3, name="@back")
    new = replace_component(act=act, component=pump, on=date(2024, 2, 29), reason="+burnt out", name="-")
    replace_component(act=act, component=new, on=date(2025, 2, 28), reason="seized", dimensions={})
    retire_component(act=act, component=basin, on=date(2026, 1, 1), reason="filled in")
    who = people.create_customer(act=act, name="Zoë Quill", phone="+1 555 0100", note="=1+1", kind="association")
    role = people.give_role(act=act, property=home, customer=who, role="owner", from_date=date(2019, 1, 1))
    people.end_role(act=act, role=role, until_date=date(2022, 1, 1))
    people.give_role(act=act, property=home, customer=who, role="owner", from_date=date(2023, 1, 1), agrees_days=False)
    hazard_gone(act=act, hazard=add_hazard(act=act, property=home, kind="dog", note="=dog"))
    add_hazard(act=act, property=home, kind="dog", note="=dog", x_ft=-3.5, depth_in=0)
    Property.objects.filter(pk=home.pk).update(note=home.note.replace("\r\n", "\n"))
    assert_comes_back(gate_codes=True)
    assert b"4411" not in export_register(act=act)


def test_starting_layouts_come_back():
    act = office()
    home = register.create_property(act=act, address="1 Hollow Lane")
    from jobs.decide import layouts

    for layout in layouts.ALL:
        numbers = {ask.name: ask.usual for ask in layout.asks}
        apply_layout(act=act, property=home, layout=layout.code, numbers=numbers, system_name=layout.code)
    assert_comes_back()


PLAIN = st.text(st.characters(exclude_categories=("Cs", "Cc", "Co", "Cn")), max_size=12)
# What a spreadsheet runs, what we read as a mark, and what CSV quotes.
MARKS = st.sampled_from(
    ("", "", "=", "+", "-", "@", "'", "''=", "~", ";", '"', ",", "unknown", "\n", "1e5", "-7", "TRUE")
)
TEXT = st.builds(lambda mark, text: mark + text, MARKS, PLAIN)
TAG = TEXT.map(lambda text: text[:8])


@hypothesis_settings(max_examples=12, phases=(Phase.explicit, Phase.generate))
@given(
    seed=st.integers(0, 10**9), tags=st.lists(TAG, min_size=1, max_size=6), words=st.lists(TEXT, min_size=3, max_size=3)
)
def test_registers_of_any_shape_come_back(seed, tags, words):
    try:
        with transaction.atomic():
            _random_register(random.Random(seed), tags, words)
            assert_comes_back()
            raise _Undone
    except _Undone:
        pass


def _random_register(chance: random.Random, tags: list[str], words: list[str]) -> None:
    """Two yards with parts of random kinds, sizes, tags, days and connections, some taken out."""
    act = office()
    for number in (1, 2):
        home = register.create_property(act=act, address=f"{number} {words[0]}", note=words[1], corner=words[2])
        system = register.create_system(act=act, property=home, name=words[0].strip() or "one")
        parts: list[Component] = []
        for tag in dict.fromkeys([*tags, "", ""]):
            part = _random_part(chance, home, chance.choice((system, None)), tag, parts, words)
            if part is not None:
                parts.append(part)
        for first, second in pairwise(parts):
            if chance.random() < 0.6:
                kind = chance.choice(("normal", "overflow"))
                connect.connect(act=act, from_component=first, to_component=second, kind=kind)
        for part in parts:
            if registry.get(part.kind).takes_in and chance.random() < 0.7:
                add_drainage_area(act=act, component=part, surface="bed", area_ft2=chance.uniform(1, 900), runoff_c=0.2)
            if chance.random() < 0.3:
                _take_out(chance, part)


def _take_out(chance: random.Random, part: Component) -> None:
    part.refresh_from_db()
    if part.retired_on is not None:
        return
    if chance.random() < 0.5:
        replace_component(act=office(), component=part, on=date(2026, 5, 1), reason="worn")
    else:
        retire_component(act=office(), component=part, on=date(2026, 5, 1), reason="not needed")


def _random_part(chance, home, system, tag, parts, words) -> Component | None:
    kind = chance.choice(registry.ALL)
    holders = [part for part in parts if part.kind in kind.part_of]
    if kind.is_part and not holders:
        kind = registry.get("catch_basin")
    basins = [part for part in parts if part.kind in kind.sits_in]
    sizes, certainty = _random_sizes(chance, kind)
    try:
        with transaction.atomic():
            return change_component.add_component(
                act=office(),
                property=home,
                system=system,
                kind=kind.code,
                tag="" if kind.is_part else tag,
                part_of=chance.choice(holders) if kind.is_part else None,
                sits_in=chance.choice(basins) if basins else None,
                dimensions=sizes,
                certainty=certainty,
                note=words[1],
                installed_on=date(1990, 1, 1) + timedelta(days=chance.randrange(12_000)),
                place=[[chance.uniform(-50, 50), float(chance.randrange(50))] for _ in range(chance.randrange(4))],
                place_certainty=chance.choice(("", "measured", "assumed")),
            )
    except change_component.Conflict:  # two tags that are the same when folded
        return None


def _random_sizes(chance: random.Random, kind) -> tuple[dict, dict]:
    sizes: dict = {}
    for item in fields(kind):
        if chance.random() < 0.5 or item.type == "curve":
            continue
        if item.type == "number":
            value = chance.uniform(item.low, item.high)
        elif item.type == "whole":
            value = chance.randint(int(item.low), int(item.high))
        else:
            value = chance.choice(list(item.choices) if item.type == "choice" else [True, False])
        try:
            clean_dimensions(kind, {**sizes, item.name: value})
        except DimensionError:
            continue
        sizes[item.name] = value
    return sizes, {name: chance.choice(("measured", "assumed")) for name in sizes}


def test_an_export_holds_what_its_reader_may_see():
    cast = make_cast()
    sump_yard(cast.property)
    sump_yard(cast.strangers_property)
    Customer.objects.update(note="pays late")
    Property.objects.update(access_note="over the wall", gate_code="4411")
    for who in ("crew", "homeowner"):
        data = export_register(act=cast.act(who), gate_codes=True).decode()
        assert "7 Cistern Row" in data
        assert "90 Far Meadow" not in data
        assert "pays late" not in data
        assert "4411" not in data
        assert ("over the wall" in data) == (who == "crew")
    office_copy = export_register(act=cast.act("office"), gate_codes=True).decode()
    assert all(text in office_copy for text in ("90 Far Meadow", "pays late", "4411"))
    nobody = export_register(act=cast.act("other_crew")).decode()
    assert nobody == "address,kind,tag\r\n"
    only = Property.objects.filter(pk=cast.property.pk)
    assert "90 Far Meadow" not in export_register(act=cast.act("office"), properties=only).decode()
    grant(act=cast.act("office"), property_id=cast.strangers_property.pk, user_id=cast.other_crew.pk, reason="office")
    assert "90 Far Meadow" in export_register(act=cast.act("other_crew")).decode()


def test_an_export_takes_as_many_queries_for_many_properties(django_assert_num_queries):
    act = acts.by_system("test", at=AT)
    sump_yard()
    with django_assert_num_queries(7):
        export_register(act=act)
    for _ in range(12):
        sump_yard()
    with django_assert_num_queries(7):
        export_register(act=act)
