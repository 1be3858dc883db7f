"""Writes the register as a file that imports back to the same register: one row a part, in an order of its own content.

Customers without a role, areas without a property, erased people, photos, jobs and the history are not in it.
"""

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any, Final, Literal
from uuid import UUID

from django.db.models import Model, QuerySet

from core import normalise
from core.act import Act
from jobs.exchange import columns
from jobs.exchange.cells import Raw, one_line_end
from jobs.exchange.columns import PEOPLE, Column
from jobs.exchange.present import batches
from jobs.exchange.table_writer import csv_bytes, xlsx_bytes
from jobs.kinds import registry
from jobs.kinds.dimensions import field_by_name, read_dimensions
from jobs.models import Component, Connection, DrainageArea, Hazard, Property, PropertyRole, System
from jobs.read import visible

FileFormat = Literal["csv", "xlsx"]
COMPANY_ONLY: Final = frozenset({"access_note", "property_note"})
Cells = dict[str, Raw]
_KIND_ORDER: Final = {kind.code: place for place, kind in enumerate(registry.ALL)}


@dataclass
class _Yard:
    """What is at one property, as far as this person may see it."""

    systems: list[System] = field(default_factory=list)
    parts: list[Component] = field(default_factory=list)
    links: dict[int, list[Connection]] = field(default_factory=lambda: defaultdict(list))
    drains: dict[int, list[DrainageArea]] = field(default_factory=lambda: defaultdict(list))
    hazards: list[Hazard] = field(default_factory=list)
    roles: list[PropertyRole] = field(default_factory=list)


def visible_to(act: Act) -> QuerySet[Property]:
    """The properties an export by this person may hold."""
    return visible.properties(act)


def export_register(
    *,
    act: Act,
    file_format: FileFormat = "csv",
    properties: QuerySet[Property] | None = None,
    gate_codes: bool = False,
) -> bytes:
    """The register as far as this person may see it; `properties` narrows it further.

    Gate codes are written for the office alone, and only when asked for. Equal registers give equal CSV bytes.
    """
    rows = list(_rows(act, properties, gate_codes and act.is_office))
    used = {name for row in rows for name in row}
    chosen = [column for column in _every_column(used) if column.name in used or _always(column)]
    return csv_bytes(chosen, rows) if file_format == "csv" else xlsx_bytes(chosen, rows)


def _always(column: Column) -> bool:
    return column.name in ("address", "kind", "tag")


def _every_column(used: set[str]) -> list[Column]:
    """Columns in the order of the template, numbered groups as often as they are used, uids at the end."""
    groups: dict[str, int] = defaultdict(int)
    for name in used:
        column = columns.find(name)
        if column is not None and column.prefix:
            groups[column.prefix] = max(groups[column.prefix], column.number)
    people = [
        item for role in (*PEOPLE, "hazard") for n in range(groups[role]) for item in columns.numbered(role, n + 1)
    ]
    drains = [item for n in range(groups["drains"]) for item in columns.numbered("drains", n + 1)]
    sizes = columns.dimension_columns().values()
    every = [*columns.PROPERTY_COLUMNS, *people, *columns.SYSTEM_COLUMNS, *columns.PART_COLUMNS, *drains, *sizes]
    return columns.in_order(every)


def _rows(act: Act, properties: QuerySet[Property] | None, gate_codes: bool) -> Iterator[Cells]:
    may = visible_to(act)
    if properties is not None:
        may = may.filter(pk__in=properties.values("pk"))
    found = sorted(may.select_related("area"), key=_place_of_property)
    for batch in batches(found):
        yards = _yards(act, [place.pk for place in batch])
        for place in batch:
            yield from _rows_of(act, place, yards[place.pk], gate_codes)


def _yards(act: Act, pks: list[int]) -> dict[int, _Yard]:
    """What is at each of these properties, in six queries."""
    found: dict[int, _Yard] = defaultdict(_Yard)
    for system in visible.systems(act).filter(property__in=pks):
        found[system.property_id].systems.append(system)
    holders = ("system", "sits_in", "part_of", "successor")
    for part in visible.components(act).filter(property__in=pks).select_related(*holders):
        found[part.property_id].parts.append(part)
    for link in visible.connections(act).filter(property__in=pks).select_related("to_component"):
        found[link.property_id].links[link.from_component_id].append(link)
    for area in visible.drainage_areas(act).filter(property__in=pks):
        found[area.property_id].drains[area.component_id].append(area)
    for hazard in visible.hazards(act).filter(property__in=pks):
        found[hazard.property_id].hazards.append(hazard)
    people = visible.roles(act).filter(property__in=pks, customer__erased_at=None)
    for role in people.select_related("customer"):
        found[role.property_id].roles.append(role)
    return found


def _place_of_property(place: Property) -> tuple[str, ...]:
    return normalise.folded(place.address), place.address, place.city, str(place.uid)


def _place_of_part(part: Component) -> tuple[Any, ...]:
    system = part.system.name if part.system else ""
    kind = _KIND_ORDER.get(part.kind, len(_KIND_ORDER))
    return system, part.retired_on is not None, kind, part.tag_key, str(part.retired_on or ""), str(part.uid)


def _rows_of(act: Act, place: Property, yard: _Yard, gate_codes: bool) -> Iterator[Cells]:
    shared = _property_cells(act, place, yard, gate_codes)
    used = {part.system_id for part in yard.parts}
    for part in sorted(yard.parts, key=_place_of_part):
        yield {**shared, **_system_cells(part.system), **_part_cells(part, yard)}
    bare = sorted((item for item in yard.systems if item.pk not in used), key=lambda item: (item.name, str(item.uid)))
    for system in bare:
        yield {**shared, **_system_cells(system)}
    if not yard.parts and not bare:
        yield shared


def _property_cells(act: Act, place: Property, yard: _Yard, gate_codes: bool) -> Cells:
    hidden = set() if gate_codes else {"gate_code"}
    if act.role == "homeowner":
        hidden |= COMPANY_ONLY
    cells = _plain(columns.PROPERTY_COLUMNS, place, hidden=frozenset(hidden))
    if place.plan:
        cells["plan"] = json.dumps(place.plan, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    if place.area is not None:
        cells |= {"area": place.area.name, "area_uid": str(place.area.uid)}
    for number, hazard in enumerate(sorted(yard.hazards, key=lambda item: (item.found_at, str(item.uid))), start=1):
        cells |= _plain(columns.numbered("hazard", number), hazard)
    for role in PEOPLE:
        mine = sorted((item for item in yard.roles if item.role == role), key=_place_of_role)
        for number, held in enumerate(mine, start=1):
            cells |= _person_cells(act, role, number, held)
    return _filled(cells)


def _place_of_role(role: PropertyRole) -> tuple[Any, ...]:
    return role.until_date is not None, role.from_date, role.customer.name, str(role.uid)


def _person_cells(act: Act, role: str, number: int, held: PropertyRole) -> Cells:
    cells: Cells = {}
    for column in columns.numbered(role, number):
        if column.field == "role_uid":
            cells[column.name] = str(held.uid)
        elif not column.office or act.is_office:
            of_role = column.field not in ("uid", "note", "kind") and hasattr(held, column.field)
            cells[column.name] = _cell(getattr(held if of_role else held.customer, column.field))
    return cells


def _system_cells(system: System | None) -> Cells:
    return {} if system is None else _filled(_plain(columns.SYSTEM_COLUMNS, system))


def _part_cells(part: Component, yard: _Yard) -> Cells:
    cells = _plain(columns.PART_COLUMNS, part, hidden=frozenset({"sits_in", "part_of", "successor"}))
    cells["place"] = "; ".join(f"{_number(x)} {_number(y)}" for x, y in part.place)
    for name, other in (("sits_in", part.sits_in), ("part_of", part.part_of), ("replaced_by", part.successor)):
        cells[name] = _ref(other) if other is not None else ""
    for name, kind in (("goes_to", Connection.Kind.NORMAL), ("overflows_to", Connection.Kind.OVERFLOW)):
        links = [link for link in yard.links[part.pk] if link.kind == kind]
        named = sorted((_ref(link.to_component), link.certainty == "assumed") for link in links)
        cells[name] = "; ".join(("~" if assumed else "") + ref for ref, assumed in named)
    return _filled({**cells, **_drains_cells(yard.drains[part.pk]), **_size_cells(part)})


def _drains_cells(areas: Iterable[DrainageArea]) -> Cells:
    cells: Cells = {}
    ordered = sorted(areas, key=lambda item: (item.surface, item.name, item.area_ft2, str(item.uid)))
    for number, area in enumerate(ordered, start=1):
        cells |= _plain(columns.numbered("drains", number), area)
        if area.certainty == "assumed":
            cells[f"drains_{number}_ft2"] = "~" + _number(area.area_ft2)
    return cells


def _size_cells(part: Component) -> Cells:
    kind = registry.BY_CODE.get(part.kind)
    if kind is None:
        return {}
    known = read_dimensions(kind, part.dimensions, part.certainty, version=part.kind_version)
    cells: Cells = {}
    for name, value in known.values.items():
        if field_by_name(kind)[name].type == "curve":
            value = "; ".join(f"{_number(point['flow_gpm'])}@{_number(point['head_ft'])}" for point in value)
        cell = _cell(value)
        cells[name] = f"~{_text(cell)}" if known.certainty[name] == "assumed" else cell
    return cells


def _plain(which: Iterable[Column], record: Model, *, hidden: frozenset[str] = frozenset()) -> Cells:
    """The cells of columns whose field is a plain value of the record."""
    cells: Cells = {}
    for column in which:
        if column.field not in hidden and column.name not in hidden and column.type not in ("points", "json", "tags"):
            value = getattr(record, column.field, None)
            if not isinstance(value, Model):
                cells[column.name] = _cell(value)
    return cells


def _cell(value: Any) -> Raw:
    """A value as a cell: yes and no as words, uids and instants as text, numbers and days as they are.

    A line ends with a line feed alone, since a workbook keeps no other.
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, UUID):
        return str(value)
    if isinstance(value, str):
        return one_line_end(value)
    if isinstance(value, datetime):
        return value.isoformat()
    return value


def _filled(cells: Cells) -> Cells:
    return {name: value for name, value in cells.items() if value != ""}


def _number(value: float) -> str:
    return str(int(value)) if float(value).is_integer() and abs(value) < 1e15 else repr(float(value))


def _text(value: Raw) -> str:
    if isinstance(value, int | float) and not isinstance(value, bool):
        return _number(value)
    return value.isoformat() if isinstance(value, date) else str(value)


def _ref(part: Component) -> str:
    """A part as another row names it: its tag if it is in the ground and has one, else its uid."""
    if part.retired_on is not None or not part.tag:
        return str(part.uid)
    needs_quotes = part.tag.startswith("~") or part.tag.casefold() == "unknown" or any(c in part.tag for c in ';"')
    return '"' + part.tag.replace('"', '""') + '"' if needs_quotes else part.tag
