"""Checks the surfaces that drain to each part, and finds those the register has already."""

from collections.abc import Iterable

from core import normalise
from jobs import drainage_areas
from jobs.exchange import present
from jobs.exchange.check_parts import PartRow
from jobs.exchange.check_places import match_in_order
from jobs.exchange.checking import Checking, checked, column_of, read_said
from jobs.exchange.drafts import DrainsDraft
from jobs.exchange.present import AtProperty
from jobs.kinds import registry
from jobs.models import DrainageArea


def check_drains(checking: Checking, rows: Iterable[PartRow], there: AtProperty) -> None:
    """Make the drainage areas of the parts of one property."""
    for row in rows:
        numbers = sorted({column_of(name).number for name in row.drains})
        mine = [draft for number in numbers if (draft := _drains(checking, row, number)) is not None]
        pk = row.draft.existing.pk if row.draft.existing else None
        records = [area for area in there.drains if area.component_id == pk]
        match_in_order(mine, records, _key_of_draft, _key_of_area)
        row.draft.at.drains += mine


def _key_of_draft(draft: DrainsDraft) -> tuple[str, str]:
    return draft.values["surface"], normalise.folded(draft.values.get("name"))


def _key_of_area(area: DrainageArea) -> tuple[str, str]:
    return area.surface, normalise.folded(area.name)


def _drains(checking: Checking, row: PartRow, number: int) -> DrainsDraft | None:
    draft = row.draft
    cells = {name: (raw, draft.row) for name, raw in row.drains.items() if column_of(name).number == number}
    read = read_said(checking, cells, cells)
    plain = {name: cell for name, cell in read.items() if column_of(name).field in drainage_areas.DRAINAGE_AREA}
    values = checked(checking, "drainage area", drainage_areas.DRAINAGE_AREA, plain)
    if not draft.kind.takes_in:
        kinds = ", ".join(kind.name for kind in registry.ALL if kind.takes_in)
        words = (
            f"drains_{number}: {draft.kind.a_name} takes in no water; say it at the inlet the water enters ({kinds})."
        )
        checking.refuse(draft.row, next(iter(cells)), words)
        return None
    uid = read[f"drains_{number}_uid"][0].value if f"drains_{number}_uid" in read else None
    missing = [name for name in ("surface", "ft2", "runoff_c") if f"drains_{number}_{name}" not in cells]
    for name in missing:
        checking.refuse(draft.row, f"drains_{number}_{name}", _missing(f"drains_{number}_{name}"))
    if missing or not {"surface", "area_ft2", "runoff_c"} <= values.keys():
        return None
    values["certainty"] = "assumed" if read[f"drains_{number}_ft2"][0].assumed else "measured"
    return DrainsDraft(draft, draft.row, number, values, uid)


def _missing(name: str) -> str:
    hint = " (our starting layouts take roof 0.95, paved 0.9, lawn 0.25)" if name.endswith("runoff_c") else ""
    return f"{name} is empty: a surface needs its kind, area and runoff coefficient{hint}; or empty its other cells."


def refuse_foreign_drains(checking: Checking) -> None:
    """Uids of surfaces that drain to another part are problems."""
    drafts = [draft for home in checking.draft.properties for draft in home.drains]
    taken = present.taken(DrainageArea, {draft.uid for draft in drafts if draft.uid is not None})
    for draft in drafts:
        if draft.existing is None and draft.uid in taken:
            words = f"The uid {draft.uid} belongs to a surface of another part: empty the cell."
            checking.refuse(draft.row, f"drains_{draft.number}_uid", words, str(draft.uid))
