"""Makes register files of an invented company: whole yards of four shapes, and old ones of which little is known."""

import csv
import random
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

from openpyxl import Workbook

Row = dict[str, str | float]

STREETS = ("Hollow Lane", "Cistern Row", "Far Meadow", "Weir Close", "Moss Gate", "Fern Bank", "Culvert Hill")
CITIES = ("Upper Fernby", "Lower Fernby", "Mossgate")
FIRST = ("Oda", "Bram", "Ivo", "Mara", "Pell", "Tilda", "Joss", "Wenna", "Corin", "Hale")
LAST = ("Quill", "Nettle", "Tannery", "Weir", "Sluys", "Marrow", "Thrush", "Peavey", "Lathe", "Ombre")
NEWEST = date(2024, 6, 1)


def write_register(path: Path, rows: int = 200, seed: int = 1, *, newest: date = NEWEST) -> list[Row]:
    """Write exactly `rows` rows to `path` (CSV, or XLSX by its ending) and return them; the same for the same seed.

    Every property has an owner with a mail address at home.invalid; parts were put in within 9 years before `newest`.
    """
    made = list(register_rows(rows, seed, newest=newest))
    header = list(dict.fromkeys(name for row in made for name in row))
    if path.suffix == ".xlsx":
        book = Workbook(write_only=True)
        sheet = book.create_sheet("register")
        sheet.append(header)
        for row in made:
            sheet.append([row.get(name) for name in header])
        book.save(path)
    else:
        with path.open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, header, lineterminator="\r\n")
            writer.writeheader()
            writer.writerows(made)
    return made


def register_rows(rows: int, seed: int, *, newest: date = NEWEST) -> Iterator[Row]:
    """The rows, property after property; the last yard is cut off where `rows` is reached, never its connections."""
    chance = random.Random(f"register {seed}")
    left = rows
    for number in range(1, rows + 1):
        shared = _property(number, chance)
        shape = (_sump_yard, _french_yard, _roof_yard, _old_yard)[number % 4]
        parts = shape(chance, newest - timedelta(days=chance.randrange(200, 3300)))
        if len(parts) > left:
            parts = [{"kind": "catch_basin", "tag": f"CB-{n}"} for n in range(1, left + 1)]
        for part in parts:
            yield {**shared, **part}
        left -= len(parts)
        if not left:
            return


def _property(number: int, chance: random.Random) -> Row:
    owner = f"{chance.choice(FIRST)} {chance.choice(LAST)}"
    row: Row = {
        "address": f"{number} {STREETS[number % len(STREETS)]}",
        "city": CITIES[number % len(CITIES)],
        "postcode": f"000{number % 100:02d}",
        "zone": "America/New_York",
        "lat": round(41 + chance.random() / 10, 5),
        "lon": round(-74 + chance.random() / 10, 5),
        "area": CITIES[number % len(CITIES)],
        "consequence": chance.choice(("building", "outdoor_room", "lawn")),
        "property_canopy": chance.choice(("open", "some", "heavy")),
        "owner_name": owner,
        "owner_email": f"owner{number}@home.invalid",
        "owner_phone": f"555-01{number % 100:02d}",
        "owner_from": "2012-01-01",
    }
    if number % 7 == 0:
        row |= {"hazard_1_kind": "cable", "hazard_1_note": "to the pool light", "hazard_1_depth_in": 5}
    if number % 9 == 0:
        row |= {
            "tenant_name": f"{chance.choice(FIRST)} {chance.choice(LAST)} the younger",
            "tenant_phone": f"555-02{number % 100:02d}",
        }
    return row


def _maybe(chance: random.Random, value: float) -> str | float:
    """Measured more often than assumed."""
    return value if chance.random() < 0.6 else f"~{value:g}"


def _sump_yard(chance: random.Random, installed: date) -> list[Row]:
    system: Row = {"system": "Patio", "target_return_years": 10, "installed_on": installed.isoformat()}
    basin = {"depth_in": 30, "on_above_bottom_in": 14, "off_above_bottom_in": 6, "pump_intake_above_bottom_in": 3}
    channel: Row = {
        "kind": "channel_run",
        "tag": "CH-1",
        "goes_to": "SB-1",
        "inside_width_in": 4,
        "inside_depth_in": _maybe(chance, chance.choice((3, 4, 6))),
        "length_ft": chance.randrange(12, 40),
        "ends": "piped",
        "drains_1_surface": "paved",
        "drains_1_ft2": _maybe(chance, chance.randrange(300, 900, 50)),
        "drains_1_runoff_c": 0.9,
    }
    lift = _maybe(chance, chance.randrange(3, 8))
    parts: list[Row] = [
        # The pump stands before its basin: the order of rows must not matter.
        {"kind": "pump", "tag": "PU-1", "sits_in": "SB-1", "goes_to": "CV-1", "horsepower_hp": 0.5},
        channel,
        {"kind": "grate", "part_of": "CH-1", "width_in": 5, "open_share_percent": _maybe(chance, 40)},
        {"kind": "sump_basin", "tag": "SB-1", "goes_to": "PU-1", "inside_diameter_in": 18, **basin},
        {"kind": "float", "part_of": "PU-1", "sits_in": "SB-1", "switch_type": "tethered"},
        {"kind": "check_valve", "tag": "CV-1", "goes_to": "DL-1", "valve_type": "swing"},
        {"kind": "discharge_line", "tag": "DL-1", "goes_to": "OF-1", "length_ft": 60, "static_lift_ft": lift},
        {"kind": "outfall", "tag": "OF-1", "outlet_kind": "curb"},
    ]
    return [{**system, **part} for part in parts]


def _french_yard(chance: random.Random, installed: date) -> list[Row]:
    drain: Row = {
        "kind": "french_drain",
        "tag": "FD-1",
        "goes_to": "GP-1",
        "inside_diameter_in": 4,
        "length_ft": chance.randrange(30, 90),
        "slope_percent": _maybe(chance, 1),
        "clean_out_fitted": "yes",
        "drains_1_surface": "lawn",
        "drains_1_ft2": _maybe(chance, chance.randrange(1000, 3000, 100)),
        "drains_1_runoff_c": 0.25,
    }
    pipe: Row = {"kind": "gravity_pipe", "tag": "GP-1", "goes_to": "~OF-1", "inside_diameter_in": 4, "length_ft": 40}
    parts = [drain, pipe, {"kind": "outfall", "tag": "OF-1", "outlet_kind": "pop_up"}]
    return [{"system": "Side yard", "installed_on": installed.isoformat(), **part} for part in parts]


def _roof_yard(chance: random.Random, installed: date) -> list[Row]:
    leader: Row = {
        "kind": "downspout_leader",
        "tag": "DS-1",
        "goes_to": "CB-1",
        "inside_diameter_in": 4,
        "length_ft": chance.randrange(8, 30),
        "drains_1_surface": "roof",
        "drains_1_ft2": _maybe(chance, chance.randrange(400, 1400, 100)),
        "drains_1_runoff_c": 0.95,
    }
    box: Row = {
        "kind": "catch_basin",
        "tag": "CB-1",
        "goes_to": "DW-1",
        "inside_width_in": 12,
        "inside_length_in": 12,
        "depth_in": _maybe(chance, 18),
        "invert_above_bottom_in": _maybe(chance, chance.choice((4, 6, 8))),
        "drains_1_surface": "lawn",
        "drains_1_ft2": "~600",
        "drains_1_runoff_c": 0.2,
    }
    well: Row = {"kind": "dry_well", "tag": "DW-1", "inside_diameter_in": 24, "soaking_in_per_h": _maybe(chance, 2)}
    grate: Row = {"kind": "grate", "part_of": "CB-1", "set_in": "lawn"}
    return [{"system": "Roof", "installed_on": installed.isoformat(), **part} for part in (grate, leader, well, box)]


def _old_yard(chance: random.Random, installed: date) -> list[Row]:
    """Nothing but kind and tag, and now and then one size somebody guessed."""
    box: Row = {"kind": "catch basin", "tag": "CB-1"}
    if chance.random() < 0.5:
        box["invert_above_bottom_in"] = "~6"
    channel: Row = {"kind": "channel run", "tag": "CH-1"}
    return [box, channel]
