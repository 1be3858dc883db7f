"""Writes what a checked file adds, set by set: rows, history, versions, search texts, revisions as the services do."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final
from uuid import UUID, uuid4

from django.db.models import F

from core import normalise
from core.act import Act
from core.history import differences
from core.models import History
from jobs.component_versions import version_data
from jobs.edits import as_kept
from jobs.exchange.drafts import Draft, Holder, PartDraft, PropertyDraft
from jobs.models import (
    Area,
    Component,
    ComponentVersion,
    Connection,
    Customer,
    DrainageArea,
    Hazard,
    Property,
    PropertyRole,
    System,
)
from jobs.people import PERSONAL
from jobs.register import property_search

AT_ONCE: Final = 1000


@dataclass
class Writing:
    """What one import writes: the history in order, and how often each property's revision rises."""

    act: Act
    zone: str
    history: list[History] = field(default_factory=list)
    raised: Counter[int] = field(default_factory=Counter)

    def note(
        self,
        noun: str,
        uid: UUID,
        after: Mapping[str, Any],
        *,
        at: Property | None = None,
        action: str = "create",
        before: Mapping[str, Any] | None = None,
        note: str = "",
    ) -> None:
        """One entry of the history; `at`: the property whose revision rises with it. Written with the others."""
        act = self.act
        self.history.append(
            History(
                act_id=act.id,
                at=act.at,
                who=act.who,
                who_name=act.name[:80],
                via=act.via,
                noun=noun,
                object_uid=uid,
                property_uid=at.uid if at is not None else None,
                action=action,
                changes=differences(dict(before or {}), dict(after)),
                note=note[:300],
            )
        )
        if at is not None:
            self.raised[at.pk] += 1


def write_new(*, act: Act, draft: Draft, zone: str) -> None:
    """Create every record of the draft that is new; then each draft's `existing` is its record.

    Call inside a transaction, after the check found no problem. `zone`: of properties that name none.
    """
    writing = Writing(act, zone)
    _areas(writing, draft)
    _customers(writing, draft)
    _properties(writing, draft)
    _systems(writing, draft.properties)
    _hazards(writing, draft.properties)
    _roles(writing, draft.properties)
    parts = _parts(writing, draft.properties)
    _connections(writing, draft.properties)
    _drains(writing, draft.properties)
    _retire(writing, parts)
    History.objects.bulk_create(writing.history, batch_size=AT_ONCE)
    by_count: dict[int, list[int]] = defaultdict(list)
    for pk, count in writing.raised.items():
        by_count[count].append(pk)
    for count, pks in by_count.items():
        for start in range(0, len(pks), AT_ONCE):
            chosen = Property.objects.filter(pk__in=pks[start : start + AT_ONCE])
            chosen.update(revision=F("revision") + count)


def _areas(writing: Writing, draft: Draft) -> None:
    for area in draft.areas:
        area.existing = Area(uid=area.uid or uuid4(), name=area.name)
        writing.note("area", area.existing.uid, as_kept({"name": area.name}))
    Area.objects.bulk_create([area.existing for area in draft.areas if area.existing], batch_size=AT_ONCE)


def _customers(writing: Writing, draft: Draft) -> None:
    made = []
    for customer in draft.customers:
        if customer.existing is None:
            values = {"kind": "person", "language": "en", **customer.values}
            search = normalise.search_text(values["name"], values.get("email"), values.get("phone"))
            record = Customer(uid=customer.uid or uuid4(), **values, search=search, created_at=writing.act.at)
            customer.existing = record
            made.append(record)
            writing.note("customer", record.uid, as_kept(values, withheld=PERSONAL))
    Customer.objects.bulk_create(made, batch_size=AT_ONCE)


def _properties(writing: Writing, draft: Draft) -> None:
    made = []
    for home in draft.properties:
        if home.existing is None:
            values = {"zone": writing.zone, **home.values}
            if home.area is not None:
                values["area"] = home.area.existing
            search = property_search(values)
            record = Property(uid=home.uid or uuid4(), **values, search=search, created_at=writing.act.at)
            home.existing = record
            made.append(record)
            writing.note("property", record.uid, as_kept(values))
    Property.objects.bulk_create(made, batch_size=AT_ONCE)


def _home(home: PropertyDraft) -> Property:
    if home.existing is None:
        raise LookupError(f"{home.label} is written before anything at it")
    return home.existing


def _systems(writing: Writing, homes: list[PropertyDraft]) -> None:
    made = []
    for system in (system for home in homes for system in home.systems if system.existing is None):
        place = _home(system.at)
        record = System(uid=system.uid or uuid4(), property=place, **system.values, created_at=writing.act.at)
        system.existing = record
        made.append(record)
        writing.note("system", record.uid, as_kept({"property": place, **system.values}), at=place)
    System.objects.bulk_create(made, batch_size=AT_ONCE)


def _hazards(writing: Writing, homes: list[PropertyDraft]) -> None:
    made = []
    for hazard in (hazard for home in homes for hazard in home.hazards if hazard.existing is None):
        place = _home(hazard.at)
        values = {"property": place, **hazard.values}
        found_at = hazard.found_at or writing.act.at
        record = Hazard(uid=hazard.uid or uuid4(), **values, found_at=found_at, gone_at=hazard.gone_at)
        made.append(record)
        writing.note("hazard", record.uid, as_kept(values), at=place)
        if hazard.gone_at is not None:
            after = {"gone_at": hazard.gone_at.isoformat()}
            writing.note("hazard", record.uid, after, at=place, action="change", before={"gone_at": None})
    Hazard.objects.bulk_create(made, batch_size=AT_ONCE)


def _roles(writing: Writing, homes: list[PropertyDraft]) -> None:
    made = []
    for role in (role for home in homes for role in home.roles if role.existing is None):
        place = _home(role.at)
        rights = {"agrees_days": True, "approves_cost": False, "gets_messages": True}
        values = {"property": place, "customer": role.customer.existing, **rights, **role.values}
        record = PropertyRole(uid=role.uid or uuid4(), **values, until_date=role.until_date)
        made.append(record)
        writing.note("property_role", record.uid, as_kept(values), at=place)
        if role.until_date is not None:
            after = {"until_date": role.until_date.isoformat()}
            writing.note("property_role", record.uid, after, at=place, action="change", before={"until_date": None})
    PropertyRole.objects.bulk_create(made, batch_size=AT_ONCE)


def _record(holder: Holder | None) -> Component | None:
    return holder.existing if isinstance(holder, PartDraft) else holder


def _parts(writing: Writing, homes: list[PropertyDraft]) -> list[PartDraft]:
    """Parts in the order of what they belong to: basin, then pump, then its float. Returns the new ones."""
    new = [part for home in homes for part in home.parts if part.existing is None]
    waiting = new
    for part in waiting:
        part.uid = part.uid or uuid4()
    before = {
        id(part.refs["successor"]): part.uid for part in waiting if isinstance(part.refs.get("successor"), PartDraft)
    }
    while waiting:
        ready = [part for part in waiting if not any(_is_new(part.refs.get(name)) for name in ("sits_in", "part_of"))]
        if not ready:
            raise LookupError(f"{waiting[0].label} belongs to itself by way of others")
        made = [_part(writing, part, before.get(id(part))) for part in ready]
        Component.objects.bulk_create(made, batch_size=AT_ONCE)
        versions = [version for record in made for version in _versions(writing, record)]
        ComponentVersion.objects.bulk_create(versions, batch_size=AT_ONCE)
        for part, record in zip(ready, made, strict=True):
            part.existing = record
        waiting = [part for part in waiting if part.existing is None]
    return new


def _is_new(holder: Holder | None) -> bool:
    return isinstance(holder, PartDraft) and holder.existing is None


def _part(writing: Writing, part: PartDraft, in_place_of: UUID | None) -> Component:
    place = _home(part.at)
    values = {
        "property": place,
        "kind": part.kind.code,
        **part.values,
        "dimensions": part.dimensions,
        "certainty": part.certainty,
        "system": part.system.existing if part.system is not None else None,
        "sits_in": _record(part.refs.get("sits_in")),
        "part_of": _record(part.refs.get("part_of")),
    }
    record = Component(
        uid=part.uid or uuid4(),
        **values,
        tag_key=normalise.tag_key(part.tag),
        kind_version=part.kind.version,
        retired_on=part.retired_on,
        retired_reason=part.retired_reason,
        retired_because=part.retired_because,
        revision=1 if part.retired_on is None else 2,
        created_at=writing.act.at,
    )
    note = f"in place of {in_place_of}" if in_place_of is not None else ""
    writing.note("component", record.uid, as_kept(values), at=place, note=note)
    return record


def _versions(writing: Writing, record: Component) -> Iterator[ComponentVersion]:
    """As it was put in, and if it was taken out since, as that; both recorded now."""
    data = version_data(record)
    before = {**data, "retired_on": None, "retired_because": ""}
    yield ComponentVersion(component=record, recorded_at=writing.act.at, data=before)
    if record.retired_on is not None:
        yield ComponentVersion(component=record, recorded_at=writing.act.at, data=data)


def _connections(writing: Writing, homes: list[PropertyDraft]) -> None:
    made = []
    for link in (link for home in homes for link in home.links if link.existing is None):
        place = _home(link.from_part.at)
        values = {
            "property": place,
            "from_component": link.from_part.existing,
            "to_component": _record(link.to_part),
            "kind": link.kind,
            "certainty": link.certainty,
        }
        record = Connection(uid=uuid4(), **values)
        made.append(record)
        writing.note("connection", record.uid, as_kept(values), at=place)
    Connection.objects.bulk_create(made, batch_size=AT_ONCE)


def _drains(writing: Writing, homes: list[PropertyDraft]) -> None:
    made = []
    for drains in (drains for home in homes for drains in home.drains if drains.existing is None):
        place = _home(drains.part.at)
        values = {
            "property": place,
            "component": drains.part.existing,
            "concentration_min": 5.0,
            **drains.values,
        }
        record = DrainageArea(uid=drains.uid or uuid4(), **values)
        made.append(record)
        writing.note("drainage_area", record.uid, as_kept(values), at=place)
    DrainageArea.objects.bulk_create(made, batch_size=AT_ONCE)


def _retire(writing: Writing, new: list[PartDraft]) -> None:
    """Say in the history what was taken out, and point each to the part in its place."""
    replaced = []
    for part in new:
        record = part.existing
        if record is None or part.retired_on is None:
            continue
        after = {
            "retired_on": part.retired_on.isoformat(),
            "retired_reason": part.retired_reason,
            "retired_because": part.retired_because,
        }
        place = _home(part.at)
        writing.note("component", record.uid, after, at=place, action="retire", before={"retired_on": None})
        record.successor = _record(part.refs.get("successor"))
        if record.successor is not None:
            replaced.append(record)
    Component.objects.bulk_update(replaced, ["successor"], batch_size=500)
