"""The columns of a register file: what each says, in which unit, between which limits, from which choices.

Fixed columns are declared here; a dimension of any kind is a column by its own name; people, hazards and drainage areas
have numbered columns (owner_2_name, hazard_1_kind, drains_3_ft2).
"""

import dataclasses
import functools
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal

from django.conf import settings

from jobs.kinds import registry
from jobs.kinds.dimensions import fields
from jobs.kinds.words import CERTAINTIES
from jobs.models import Component, Customer, DrainageArea, Hazard, Property

Scope = Literal["property", "person", "hazard", "system", "part", "drains", "dimension"]
CellType = Literal[
    "text", "number", "whole", "choice", "yes_no", "curve", "day", "instant", "uid", "tag", "tags", "points", "json"
]
MOST_NUMBERED: Final = 99


@dataclass(frozen=True)
class Column:
    """One column. `field` is its name in the register's services; `office`: written for the office alone."""

    name: str
    scope: Scope
    field: str
    type: CellType
    help: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    choices: Mapping[str, str] = dataclasses.field(default_factory=dict)
    may_be_assumed: bool = False
    prefix: str = ""
    number: int = 0
    in_template: bool = True
    office: bool = False

    def expects(self) -> str:
        """What to give, in words."""
        return _EXPECTS.get(self.type, "text") if self.type not in ("number", "whole", "choice") else self._range()

    def _range(self) -> str:
        if self.type == "choice":
            return "one of " + ", ".join(self.choices)
        noun = "a whole number" if self.type == "whole" else "a number"
        return f"{noun} from {self.low:g} to {self.high:g} {self.unit}".rstrip()


_EXPECTS: Final = {
    "yes_no": "yes or no",
    "day": "a day as YYYY-MM-DD, or a date cell",
    "instant": "a day as YYYY-MM-DD, or a time with its zone as YYYY-MM-DDThh:mm:ss+00:00",
    "uid": "the uid as the export wrote it, or nothing",
    "tag": "the tag (or uid) of one part at the same address",
    "tags": "tags (or uids) of parts at the same address, separated by semicolons",
    "points": "points 'x y' in feet from the named corner, separated by semicolons",
    "json": "the text as the export wrote it, or nothing",
    "curve": "points flow@head in gpm and ft, separated by semicolons",
}


def _prop(name: str, type: CellType, help: str, *, of: str = "", **more: object) -> Column:
    return Column(name, "property", of or name, type, help, **more)  # type: ignore[arg-type]


def _system(name: str, type: CellType, help: str, *, of: str, **more: object) -> Column:
    return Column(name, "system", of, type, help, **more)  # type: ignore[arg-type]


def _part(name: str, type: CellType, help: str, *, of: str = "", **more: object) -> Column:
    return Column(name, "part", of or name, type, help, **more)  # type: ignore[arg-type]


_KINDS: Final = dict(registry.CHOICES)
_CANOPY: Final = {str(code): str(words) for code, words in Property.Canopy.choices}
_END: Final = {str(code): str(words) for code, words in Component.End.choices}

PROPERTY_COLUMNS: Final = (
    _prop("address", "text", "Street address. The same on every row of that property."),
    _prop("city", "text", "Tells two equal addresses apart."),
    _prop("region", "text", "State or province."),
    _prop("postcode", "text", "Format the column as text, so that leading zeros stay."),
    _prop("zone", "text", "Time zone by its IANA name, such as America/New_York; the company's where empty."),
    _prop("lat", "number", "Latitude.", unit="degrees", low=-90, high=90),
    _prop("lon", "number", "Longitude; west is negative.", unit="degrees", low=-180, high=180),
    _prop("area", "text", "Name of the group of properties that one trip covers; made if there is none."),
    _prop("access_note", "text", "How to get in. No gate codes here."),
    _prop("gate_code", "text", "Kept encrypted. Exported only when asked for by the office.", office=True),
    _prop("notice_only", "yes_no", "May be entered with notice only; no answer is waited for."),
    _prop(
        "consequence",
        "choice",
        "What the water reaches if the drains fail.",
        choices={str(code): str(words) for code, words in Property.Consequence.choices},
    ),
    _prop("property_canopy", "choice", "Trees overhead at the property.", of="canopy", choices=_CANOPY),
    _prop("corner", "text", "The corner of the house that positions are measured from."),
    _prop("property_note", "text", "Anything about the property.", of="note"),
    _prop("closed_at", "instant", "When the property left the register.", in_template=False),
    _prop("plan", "json", "The outline drawn for the property.", in_template=False),
    _prop("property_uid", "uid", "Written by the export; finds the property again.", of="uid", in_template=False),
    _prop("area_uid", "uid", "Written by the export; finds the area again.", in_template=False),
)
SYSTEM_COLUMNS: Final = (
    _system("system", "text", "Name of the system the part belongs to; made if there is none.", of="name"),
    _system(
        "target_return_years",
        "number",
        "The storm the system is meant to carry: once in so many years.",
        of="target_return_years",
        unit="years",
        low=1,
        high=1000,
    ),
    _system("system_installed_on", "day", "When the system was put in.", of="installed_on"),
    _system("system_ours", "yes_no", "Installed by this company.", of="ours"),
    _system("warranty_until", "day", "Last day of the warranty.", of="warranty_until"),
    _system("handed_over_on", "day", "When it was handed over.", of="handed_over_on"),
    _system("system_note", "text", "Anything about the system.", of="note"),
    _system("system_uid", "uid", "Written by the export; finds the system again.", of="uid", in_template=False),
)
PART_COLUMNS: Final = (
    _part("kind", "choice", "What the part is; code or name.", choices=_KINDS),
    _part("tag", "text", "The short label on the part and the drawing. Empty for a grate or float."),
    _part("name", "text", "A longer name, if it has one."),
    _part("sits_in", "tag", "The basin a pump, float, battery or alarm belongs to."),
    _part("part_of", "tag", "What a grate or float is part of."),
    _part("goes_to", "tags", "Where the water goes next; ~CB-2 where that is assumed."),
    _part("overflows_to", "tags", "Where only the excess goes; ~CB-2 where that is assumed."),
    _part("installed_on", "day", "When the part was put in."),
    _part("cover_in", "number", "Ground above it.", unit="in", low=0, high=240),
    _part("place", "points", "Its course on the plan, such as 0 0; 12.5 3."),
    _part("place_certainty", "choice", "Whether the place was measured.", choices=dict(CERTAINTIES)),
    _part("canopy", "choice", "Trees over this part, where it differs from the property.", choices=_CANOPY),
    _part("slope_reason", "text", "Why a slope below the least was accepted."),
    _part("note", "text", "Anything about the part."),
    _part("retired_on", "day", "When it was taken out. Such a row is kept as what was there before."),
    _part("retired_reason", "text", "Why it was taken out; needed with retired_on."),
    _part("retired_because", "choice", "Its end; only a failure counts against the life of its kind.", choices=_END),
    _part("replaced_by", "tag", "The part put in its place.", of="successor"),
    _part("uid", "uid", "Written by the export; finds the part again.", in_template=False),
)
_PERSON: Final = (
    Column("name", "person", "name", "text", "Person or association."),
    Column("email", "person", "email", "text", "E-mail address."),
    Column("phone", "person", "phone", "text", "Phone number."),
    Column("from", "person", "from_date", "day", "Since when; the day of the import where empty."),
    Column("until", "person", "until_date", "day", "First day on which it no longer held.", in_template=False),
    Column("agrees_days", "person", "agrees_days", "yes_no", "May agree to days; yes where empty."),
    Column("approves_cost", "person", "approves_cost", "yes_no", "May approve cost; no where empty."),
    Column("gets_messages", "person", "gets_messages", "yes_no", "Gets messages; yes where empty."),
    Column(
        "kind",
        "person",
        "kind",
        "choice",
        "Person or association.",
        choices={str(code): str(words) for code, words in Customer.Kind.choices},
    ),
    Column("language", "person", "language", "choice", "Language of messages.", choices=dict(settings.LANGUAGES)),
    Column("note", "person", "note", "text", "Anything about the person.", office=True),
    Column("uid", "person", "uid", "uid", "Written by the export; finds the person again.", in_template=False),
    Column("role_uid", "person", "role_uid", "uid", "Written by the export; finds the role again.", in_template=False),
)
_HAZARD: Final = (
    Column(
        "kind",
        "hazard",
        "kind",
        "choice",
        "What can hurt someone or be broken.",
        choices={str(code): str(words) for code, words in Hazard.Kind.choices},
    ),
    Column("note", "hazard", "note", "text", "Where and what exactly."),
    Column("x_ft", "hazard", "x_ft", "number", "East of the corner.", unit="ft", low=-5000, high=5000),
    Column("y_ft", "hazard", "y_ft", "number", "North of the corner.", unit="ft", low=-5000, high=5000),
    Column("depth_in", "hazard", "depth_in", "number", "Below the ground.", unit="in", low=0, high=240),
    Column("found_at", "hazard", "found_at", "instant", "When it was found.", in_template=False),
    Column("gone_at", "hazard", "gone_at", "instant", "When it was gone.", in_template=False),
    Column("uid", "hazard", "uid", "uid", "Written by the export; finds the hazard again.", in_template=False),
)
_DRAINS: Final = (
    Column(
        "surface",
        "drains",
        "surface",
        "choice",
        "A surface that drains to this part.",
        choices={str(code): str(words) for code, words in DrainageArea.Surface.choices},
    ),
    Column(
        "ft2",
        "drains",
        "area_ft2",
        "number",
        "Its area; ~600 where the surface is assumed.",
        unit="ft2",
        low=0,
        high=1_000_000,
        may_be_assumed=True,
    ),
    Column("runoff_c", "drains", "runoff_c", "number", "Runoff coefficient, above 0.", low=0, high=1),
    Column(
        "minutes",
        "drains",
        "concentration_min",
        "number",
        "Time of concentration; 5 where empty.",
        unit="min",
        low=5,
        high=1440,
    ),
    Column("name", "drains", "name", "text", "What people call it."),
    Column("uid", "drains", "uid", "uid", "Written by the export; finds the surface again.", in_template=False),
)
PEOPLE: Final = ("owner", "tenant", "manager")
FIXED: Final = {column.name: column for column in (*PROPERTY_COLUMNS, *SYSTEM_COLUMNS, *PART_COLUMNS)}
_GROUPS: Final = {**dict.fromkeys(PEOPLE, _PERSON), "hazard": _HAZARD, "drains": _DRAINS}
_NUMBERED: Final = re.compile(rf"({'|'.join(_GROUPS)})(?:_([1-9][0-9]?))?_([a-z_0-9]+)")


@functools.cache
def dimension_columns() -> Mapping[str, Column]:
    """A column for each dimension of any kind, in the order the kinds declare them; limits differ by kind."""
    found: dict[str, Column] = {}
    for kind in registry.ALL:
        for item in fields(kind):
            if item.name not in found:
                found[item.name] = Column(
                    item.name, "dimension", item.name, item.type, item.label, unit=item.unit, may_be_assumed=True
                )
    return found


def numbered(prefix: str, number: int) -> tuple[Column, ...]:
    """The columns of the person, hazard or drainage area `number` (1 to 99); the first person has no number."""
    stem = prefix if prefix in PEOPLE and number == 1 else f"{prefix}_{number}"
    return tuple(
        replace(column, name=f"{stem}_{column.name}", prefix=prefix, number=number) for column in _GROUPS[prefix]
    )


@functools.lru_cache(maxsize=4096)
def find(name: str) -> Column | None:
    """The column of this name, None if there is none. Names are compared as the header reader folds them."""
    known = FIXED.get(name) or dimension_columns().get(name)
    if known is not None:
        return known
    match = _NUMBERED.fullmatch(name)
    if match is None:
        return None
    prefix, number, _ = match.groups()
    if number is None and prefix not in PEOPLE:
        return None
    return next((column for column in numbered(prefix, int(number or 1)) if column.name == _first(name)), None)


def _first(name: str) -> str:
    """owner_1_name is the same as owner_name."""
    return re.sub(rf"^({'|'.join(PEOPLE)})_1_", r"\1_", name)


def template_columns() -> Iterator[Column]:
    """The columns of an empty register file: uids are left out, one of each numbered group, two drainage areas."""
    groups = [numbered(prefix, 1) for prefix in (*PEOPLE, "hazard", "drains")] + [numbered("drains", 2)]
    people = [column for group in groups[:4] for column in group]
    drains = [column for group in groups[4:] for column in group]
    dimensions = dimension_columns().values()
    for column in (*PROPERTY_COLUMNS, *people, *SYSTEM_COLUMNS, *PART_COLUMNS, *drains, *dimensions):
        if column.in_template:
            yield column


def in_order(columns: Iterable[Column]) -> list[Column]:
    """Columns with what every row needs first, and the uids, which people leave alone, last."""
    first = {name: place for place, name in enumerate(("address", "city", "kind", "tag", "system"))}
    return sorted(columns, key=lambda column: (column.type == "uid", first.get(column.name, len(first))))


def all_names() -> list[str]:
    """Every name there is with number 1 or without, for finding what was meant."""
    groups = [column.name for prefix in _GROUPS for column in numbered(prefix, 1)]
    return [*FIXED, *groups, *dimension_columns()]
