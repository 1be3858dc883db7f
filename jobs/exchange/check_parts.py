"""Checks what each row says of its part: kind, tag, values and dimensions. Kind, tag and address are enough."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from core import clock
from core.problem import BadInput
from jobs import change_component as component_services
from jobs import field_checks as checks
from jobs.exchange.cells import Cell, CellError, Cleared, Fault, Raw, Ref, read_cell
from jobs.exchange.checking import Checking, checked, column_of, read_one, renamed
from jobs.exchange.drafts import PartDraft
from jobs.exchange.gather import Placed
from jobs.kinds import registry
from jobs.kinds.base import Kind
from jobs.kinds.dimensions import DimensionError, clean_dimensions, field_by_name, read_dimensions

SINGLE = ("sits_in", "part_of", "successor")
LISTS = ("goes_to", "overflows_to")
APART = frozenset({"kind", "uid", "retired_on", "retired_reason", "retired_because", *SINGLE, *LISTS})


@dataclass(frozen=True)
class PartRow:
    """A part with the cells of its drainage areas, which are read when all parts are known."""

    draft: PartDraft
    drains: dict[str, Raw | Fault]


def read_parts(checking: Checking, placed: list[Placed]) -> list[PartRow]:
    """A draft for every row that is a part and names a known kind."""
    found = []
    for row in placed:
        kind = _kind(checking, row)
        if kind is None:
            continue
        draft = PartDraft(row.at, row.row, kind, system=row.system)
        _read_fields(checking, draft, row)
        _read_sizes(checking, draft, row)
        row.at.parts.append(draft)
        found.append(PartRow(draft, {n: raw for n, raw in row.cells.items() if column_of(n).scope == "drains"}))
    return found


def _kind(checking: Checking, row: Placed) -> Kind | None:
    raw = row.cells.get("kind")
    if raw is None:
        first = next(iter(row.cells))
        words = f"kind is empty but {first} is given: say what the part is, or empty the row's other cells."
        checking.refuse(row.row, "kind", words)
        return None
    cell = read_one(checking, "kind", raw, row.row)
    if cell is None or cell.value is Cleared.UNKNOWN:
        return None
    return registry.get(cell.value)


def _read_fields(checking: Checking, draft: PartDraft, row: Placed) -> None:
    read: dict[str, tuple[Cell, int]] = {}
    for name, raw in row.cells.items():
        column = column_of(name)
        if column.scope == "part" and name != "kind":
            cell = read_one(checking, name, raw, row.row)
            if cell is not None:
                read[column.field] = (cell, row.row)
    for name in LISTS:
        if name in read:
            value = read[name][0].value
            draft.named_lists[name] = [] if value is Cleared.UNKNOWN else value
    for name in SINGLE:
        if name in read:
            value = read[name][0].value
            if isinstance(value, Ref):
                draft.named[name] = value
            else:
                draft.refs[name] = None
    if "uid" in read:
        draft.uid = read["uid"][0].value
    table = component_services.table_at(checking.act)
    plain = {name: cell for name, cell in read.items() if name not in APART}
    draft.values = checked(checking, "component", table, plain)
    _read_retirement(checking, draft, read)
    _require_tag(checking, draft, "tag" in row.cells)


def _read_retirement(checking: Checking, draft: PartDraft, read: dict[str, tuple[Cell, int]]) -> None:
    on, reason = read.get("retired_on"), read.get("retired_reason")
    because = read.get("retired_because")
    if on is None and reason is None and because is None:
        return
    if on is None or on[0].value is Cleared.UNKNOWN:
        words = "retired_on is empty but its reason is given: give the day it was taken out, or empty both."
        checking.refuse(draft.row, "retired_on", words)
        return
    latest = clock.local_date(checking.act.at, checking.zone) + timedelta(days=1)
    day_table = {"retired_on": checks.day(required=True, latest=latest)}
    draft.retired_on = checked(checking, "component", day_table, {"retired_on": on}).get("retired_on")
    if reason is None:
        words = "retired_reason is empty: give 1 to 200 characters, such as: not recorded."
        checking.refuse(draft.row, "retired_reason", words)
    else:
        why = checked(
            checking, "component", {"retired_reason": checks.line(200, required=True)}, {"retired_reason": reason}
        )
        draft.retired_reason = why.get("retired_reason", "")
    if because is not None and because[0].value is not Cleared.UNKNOWN:
        draft.retired_because = str(because[0].value)
    installed: date | None = draft.values.get("installed_on")
    if installed and draft.retired_on and draft.retired_on < installed:
        words = f"retired_on is {draft.retired_on}: give a day from {installed} on, when it was put in."
        checking.refuse(draft.row, "retired_on", words, draft.retired_on)


def _require_tag(checking: Checking, draft: PartDraft, given: bool) -> None:
    if draft.kind.is_part or draft.uid is not None or draft.values.get("tag") or given:
        return
    words = f"tag is empty: give the short label of the {draft.kind.name}, such as {draft.kind.tag_prefix}-1."
    checking.refuse(draft.row, "tag", words)


def _read_sizes(checking: Checking, draft: PartDraft, row: Placed) -> None:
    by_name = field_by_name(draft.kind)
    for name, raw in row.cells.items():
        if column_of(name).scope != "dimension":
            continue
        if name not in by_name:
            _refuse_size(checking, draft, name, raw)
            continue
        try:
            cell = read_cell(by_name[name], raw, may_be_assumed=True)
        except CellError as error:
            field = by_name[name]
            shown = raw.shown if isinstance(raw, Fault) else raw
            checking.problems.add(row.row, name, str(error), shown, limit=field.expects(), unit=field.unit)
            continue
        if cell.value is Cleared.UNKNOWN:
            draft.unknown.add(name)
        else:
            draft.sizes[name] = cell.value
            if cell.assumed:
                draft.assumed.add(name)


def _refuse_size(checking: Checking, draft: PartDraft, name: str, raw: Raw | Fault) -> None:
    shown: Any = raw.shown if isinstance(raw, Fault) else raw
    try:
        clean_dimensions(draft.kind, {name: shown})
    except DimensionError as error:
        checking.problems.add(draft.row, name, f"{error} Empty this cell.", shown)


def settle_dimensions(checking: Checking, draft: PartDraft) -> None:
    """Lay what the file says over what the register holds and check the whole, combinations too."""
    values: dict[str, Any] = {}
    certainty: dict[str, str] = {}
    if draft.existing is not None:
        old = draft.existing
        known = read_dimensions(draft.kind, old.dimensions, old.certainty, version=old.kind_version)
        values, certainty = dict(known.values), dict(known.certainty)
    values |= draft.sizes
    certainty |= {name: "assumed" if name in draft.assumed else "measured" for name in draft.sizes}
    for name in draft.unknown:
        values.pop(name, None)
        certainty.pop(name, None)
    try:
        known = clean_dimensions(draft.kind, values, certainty)
    except DimensionError as error:
        by_name = field_by_name(draft.kind)
        for item in error.problems:
            limit = item.limit or (by_name[item.field].expects() if item.field in by_name else "")
            checking.problems.add(draft.row, item.field, item.message, item.value, limit=limit, unit=item.unit)
        return
    draft.dimensions, draft.certainty = known.values, known.certainty


def refuse_misplaced(checking: Checking, draft: PartDraft, stand_ins: dict[str, Any], place: Any) -> None:
    """What the register's own services would refuse of tag, system and holders of a part of this kind."""
    try:
        component_services.refuse_misplaced(draft.kind, place, {"tag": draft.values.get("tag", ""), **stand_ins})
    except BadInput as error:
        for item in error.fields:
            named = draft.named.get(item.field)
            value = named.text if named is not None else item.value
            checking.refuse(draft.row, item.field, renamed(item.message, item.field, item.field), value)
