"""Finds which property and system each row belongs to, whatever the order of the rows.

What is said of a property or system on several rows must agree; an empty cell says nothing.
"""

from collections import defaultdict
from dataclasses import dataclass
from uuid import UUID

from core import normalise
from jobs.exchange import present
from jobs.exchange.cells import CellError, Fault, Raw, as_text, unguarded
from jobs.exchange.checking import Checking, column_of, read_one
from jobs.exchange.drafts import PropertyDraft, Said, SystemDraft
from jobs.exchange.table_reader import Row

OF_PROPERTY = ("property", "person", "hazard")
SAME_WHEN_FOLDED = ("address", "city", "system")


@dataclass(frozen=True)
class Placed:
    """A row that is a part, with where it belongs. `cells` are those of the part alone."""

    row: int
    at: PropertyDraft
    system: SystemDraft | None
    cells: dict[str, Raw | Fault]


def text_in(row: Row, name: str) -> str:
    """The text of a cell for grouping, "" where there is none; what is wrong with it is found later."""
    raw = row.cells.get(name)
    if raw is None or isinstance(raw, Fault):
        return ""
    try:
        return normalise.folded(unguarded(as_text(raw, column_of(name)).strip()))
    except CellError:
        return ""


def uid_in(checking: Checking, row: Row, name: str) -> UUID | None:
    """The uid in a cell, None where there is none or it is no uid, which is noted."""
    raw = row.cells.get(name)
    cell = read_one(checking, name, raw, row.number) if raw is not None else None
    return cell.value if cell is not None else None


class PropertyFinder:
    """Properties of the file, found by uid, or by address and city among the file's and the register's."""

    def __init__(self, checking: Checking) -> None:
        self._checking = checking
        self._known = present.addresses()
        self._known_by_uid = {item.uid: item for group in self._known.values() for item in group}
        self._by_uid: dict[UUID, PropertyDraft] = {}
        self._by_address: dict[str, list[PropertyDraft]] = defaultdict(list)
        self._address_of: dict[int, str] = {}
        self.pks: dict[int, PropertyDraft] = {}

    def by_uid(self, row: Row, uid: UUID) -> PropertyDraft:
        """The draft with this uid; rows that name the same uid are the same property."""
        draft = self._by_uid.get(uid)
        if draft is None:
            draft = self._new(row, uid, self._known_by_uid.get(uid))
        draft.city = draft.city or text_in(row, "city")
        return draft

    def by_address(self, row: Row) -> PropertyDraft | None:
        """The only property with this address (and city, where given); None with the problem noted."""
        address, city = text_in(row, "address"), text_in(row, "city")
        if not address:
            words = "address is empty: give the street address of the property on every row."
            self._checking.refuse(row.number, "address", words)
            return None
        drafts = self._by_address[address]
        found = [draft for draft in drafts if not city or draft.city in ("", city)]
        if not found:
            known = [
                item
                for item in self._known.get(address, ())
                if (not city or item.city in ("", city)) and item.pk not in self.pks
            ]
            if len(known) < 2:
                return self._new(row, None, known[0] if known else None)
            self._several(row, len(known))
            return None
        exact = [draft for draft in found if draft.city == city] if city else found
        if len(exact or found) > 1:
            self._several(row, len(exact or found))
            return None
        return (exact or found)[0]

    def refuse_second_ones(self) -> None:
        """A new uid at an address the register has under another uid, which the file does not name, is a mistake."""
        for uid, draft in self._by_uid.items():
            if draft.existing is not None:
                continue
            address = self._address_of[id(draft)]
            others = [item for item in self._known.get(address, ()) if item.city == draft.city]
            other = next((item for item in others if item.pk not in self.pks), None)
            if other is not None:
                words = (
                    f"property_uid is {uid}, but the register has this address as {other.uid}: empty the cell, or give "
                    "that uid."
                )
                self._checking.refuse(draft.row, "property_uid", words, str(uid))

    def _several(self, row: Row, count: int) -> None:
        column = "property_uid" if row.cells.get("city") else "city"
        words = f"{count} properties have the address {row.cells.get('address')!r}: give the {column} too."
        self._checking.refuse(row.number, column, words)

    def _new(self, row: Row, uid: UUID | None, known: present.Address | None) -> PropertyDraft:
        draft = PropertyDraft(row.number, uid, text_in(row, "city") or (known.city if known else ""))
        self._checking.draft.properties.append(draft)
        self._address_of[id(draft)] = text_in(row, "address")
        self._by_address[text_in(row, "address")].append(draft)
        if uid is not None:
            self._by_uid[uid] = draft
        if known is not None:
            self.pks[known.pk] = draft
        return draft


def gather(checking: Checking, rows: tuple[Row, ...]) -> list[Placed]:
    """Give every row its property and system and note what contradicts another row; returns the rows of parts."""
    finder = PropertyFinder(checking)
    homes: dict[int, PropertyDraft | None] = {}
    # Rows with a uid first, then those with a city, so that a bare address can join what the others named.
    with_uid = {row.number: uid for row in rows if (uid := uid_in(checking, row, "property_uid")) is not None}
    for row in rows:
        if row.number in with_uid:
            homes[row.number] = finder.by_uid(row, with_uid[row.number])
    for needs_city in (True, False):
        for row in rows:
            if row.number not in homes and bool(text_in(row, "city")) == needs_city:
                homes[row.number] = finder.by_address(row)
    for pk, item in present.properties(pks=finder.pks, uids=()).items():
        finder.pks[pk].existing = item
    for number, home in homes.items():
        if home is not None:
            home.row = min(home.row, number)
    checking.draft.properties.sort(key=lambda draft: draft.row)
    finder.refuse_second_ones()
    return _split(checking, rows, homes)


def _split(checking: Checking, rows: tuple[Row, ...], homes: dict[int, PropertyDraft | None]) -> list[Placed]:
    systems = _Systems(checking)
    placed: list[Placed] = []
    # Rows that name a system's uid first, so that a bare name can join them.
    for row in sorted(rows, key=lambda row: "system_uid" not in row.cells):
        home = homes[row.number]
        if home is None:
            continue
        scopes: dict[str, dict[str, Raw | Fault]] = defaultdict(dict)
        for name, raw in row.cells.items():
            scopes[column_of(name).scope][name] = raw
        for scope in OF_PROPERTY:
            say(checking, home.said, scopes[scope], row.number, "the property")
        system = systems.of(row, home, scopes["system"]) if scopes["system"] else None
        own = {**scopes["part"], **scopes["dimension"], **scopes["drains"]}
        if own:
            placed.append(Placed(row.number, home, system, own))
    return sorted(placed, key=lambda part: part.row)


def say(checking: Checking, said: Said, cells: dict[str, Raw | Fault], row: int, what: str) -> None:
    """Keep what a row says of something several rows may speak of; another value than before is a problem."""
    for name, raw in cells.items():
        before = said.get(name)
        if before is None:
            said[name] = (raw, row)
        elif not _same(name, raw, before[0]):
            words = (
                f"{name} is {_plain(raw)!r} here but {_plain(before[0])!r} in row {before[1]}: rows of the same "
                f"{what.removeprefix('the ')} must agree; mend one, or leave one empty."
            )
            checking.refuse(row, name, words, _plain(raw))


def _same(name: str, first: Raw | Fault, second: Raw | Fault) -> bool:
    one, other = _plain(first), _plain(second)
    if name in SAME_WHEN_FOLDED:
        return normalise.folded(one) == normalise.folded(other)
    return one == other


def _plain(raw: Raw | Fault) -> str:
    if isinstance(raw, Fault):
        return raw.shown
    if isinstance(raw, float) and raw.is_integer():
        return str(int(raw))
    return unguarded(str(raw).strip())


class _Systems:
    """Systems of the file by uid, or by name at their property."""

    def __init__(self, checking: Checking) -> None:
        self._checking = checking
        self._by_uid: dict[tuple[int, UUID], SystemDraft] = {}
        self._by_name: dict[tuple[int, str], SystemDraft] = {}

    def of(self, row: Row, home: PropertyDraft, cells: dict[str, Raw | Fault]) -> SystemDraft | None:
        """The system this row speaks of; None with the problem noted where it has no name."""
        uid = uid_in(self._checking, row, "system_uid")
        name = text_in(row, "system")
        if uid is None and not name:
            first = next(iter(cells))
            words = f"system is empty but {first} is given: name the system, or empty {first}."
            self._checking.refuse(row.number, "system", words)
            return None
        by_uid = self._by_uid.get((id(home), uid)) if uid is not None else None
        draft = by_uid or (self._by_name.get((id(home), name)) if uid is None else None)
        if draft is None:
            draft = SystemDraft(home, row.number, uid)
            home.systems.append(draft)
        if uid is not None:
            self._by_uid[id(home), uid] = draft
        if name:
            self._by_name.setdefault((id(home), name), draft)
        say(self._checking, draft.said, cells, row.number, "the system")
        return draft
