"""The documented layout, the commands that read and write it, and the page that explains it."""

import csv
import io
import json
import re
from datetime import date
from pathlib import Path

import openpyxl
import pytest
from django.core.management import CommandError, call_command

from jobs import field_checks as checks
from jobs.change_component import COMPONENT
from jobs.drainage_areas import DRAINAGE_AREA
from jobs.exchange import columns
from jobs.exchange.cells import Cleared
from jobs.exchange.template import template
from jobs.exchange.validate import check
from jobs.hazards import HAZARD
from jobs.kinds import registry
from jobs.kinds.dimensions import fields
from jobs.models import Component, Property
from jobs.people import CUSTOMER, RIGHTS
from jobs.register import PROPERTY, SYSTEM
from jobs.replace_component import END
from tests.jobs.exchange.files import csv_of, office, row_counts
from tests.jobs.exchange.made_register import write_register

TABLES = {
    "property": PROPERTY,
    "system": SYSTEM,
    "part": {**COMPONENT, "retired_because": END},
    "hazard": HAZARD,
    "drains": DRAINAGE_AREA,
    "person": {**CUSTOMER, **RIGHTS},
}
DOCS = Path(__file__).parents[3] / "docs" / "import.md"
EVERY = [
    *columns.FIXED.values(),
    *(column for prefix in (*columns.PEOPLE, "hazard", "drains") for column in columns.numbered(prefix, 1)),
]


def test_every_dimension_of_every_kind_has_a_column():
    names = {item.name for kind in registry.ALL for item in fields(kind)}
    assert names == set(columns.dimension_columns())
    assert not names & {column.name for column in EVERY}
    assert not any(re.match(rf"({'|'.join((*columns.PEOPLE, 'hazard', 'drains'))})_", name) for name in names)


def test_no_choice_reads_as_unknown():
    """A choice named like the word that takes a value back could never be given."""
    codes = {code for kind in registry.ALL for item in fields(kind) for code in item.choices}
    codes |= {code for column in EVERY for code in column.choices}
    assert Cleared.UNKNOWN.value not in codes


@pytest.mark.parametrize("column", [item for item in EVERY if item.type == "number"], ids=lambda item: item.name)
def test_limits_told_are_the_limits_kept(column):
    check = TABLES[column.scope][column.field]
    above = column.field in ("area_ft2", "runoff_c")
    for value in (column.low + (1e-6 if above else 0), column.high):
        assert check(column.field, value) == pytest.approx(value)
    for value in (column.low - (0 if above else 1e-6), column.high + 1e-6):
        with pytest.raises(checks.Refused):
            check(column.field, value)


@pytest.mark.parametrize("column", [item for item in EVERY if item.choices], ids=lambda item: item.name)
def test_choices_told_are_those_taken(column):
    if column.name == "kind":
        assert set(column.choices) == set(registry.BY_CODE)
        return
    check = TABLES[column.scope][column.field]
    for code in column.choices:
        assert check(column.field, code) == code
    with pytest.raises(checks.Refused):
        check(column.field, "something else")


def test_every_field_of_the_register_has_a_column():
    for scope, table in TABLES.items():
        told = {column.field for column in EVERY if column.scope == scope} | {"area", "system"}
        known = {"certainty"} if scope == "drains" else set()  # told by the ~ of its area
        assert set(table) <= told | known, scope


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("owner_name", "owner_name"),
        ("owner_1_name", "owner_name"),
        ("owner_2_name", "owner_2_name"),
        ("drains_12_ft2", "drains_12_ft2"),
        ("drains_ft2", None),
        ("owner_0_name", None),
        ("owner_100_name", None),
        ("owner_2_shoe", None),
    ],
)
def test_numbered_columns(name, found):
    column = columns.find(name)
    assert (column.name if column else None) == found


def test_the_template_is_the_documented_layout():
    text = template("csv").decode()
    header = next(csv.reader(io.StringIO(text)))
    assert header[:5] == ["address", "city", "kind", "tag", "system"]
    assert text.count("\r\n") == 1
    book = openpyxl.load_workbook(io.BytesIO(template("xlsx")))
    assert book.sheetnames == ["register", "columns"]
    assert [cell.value for cell in book["register"][1]] == header
    lines = list(book["columns"].iter_rows(values_only=True))
    assert lines[0] == ("column", "for", "unit", "least", "most", "choices", "what it says")
    assert {line[0] for line in lines[1:]} == set(header)
    assert ("inside_depth_in", "channel run", "in", 1, 36) in {line[:5] for line in lines}
    assert "uid" not in header


def test_the_page_names_every_column():
    page = DOCS.read_text()
    for column in EVERY:
        name = column.name.replace("tenant", "owner").replace("manager", "owner")
        assert f"`{name}`" in page, name
    for kind in registry.ALL:
        assert f"`{kind.code}`" in page


@pytest.mark.django_db
def test_the_rows_of_the_page_are_taken():
    block = next(text for text in DOCS.read_text().split("```") if text.strip().startswith("address,kind"))
    found = check(act=office(), data=block.strip().encode())
    assert (found.problems, found.counts["component"].add, found.counts["connection"].add) == ((), 4, 2)


@pytest.mark.django_db
def test_the_command_reports_then_applies(tmp_path, capsys):
    path = tmp_path / "register.csv"
    write_register(path, rows=20, seed=5)
    before = row_counts()
    call_command("import_register", str(path))
    out = capsys.readouterr().out
    assert "components: 20 to add" in out
    assert "20 rows read, no problem. Dry run: nothing was written; give --apply to write." in out
    assert row_counts() == before
    call_command("import_register", str(path), "--apply")
    assert "20 rows read and applied." in capsys.readouterr().out
    assert Component.objects.count() == 20
    call_command("import_register", str(path), "--json")
    told = json.loads(capsys.readouterr().out)
    assert told["counts"]["component"] == {"add": 0, "change": 0, "unchanged": 20, "remove": 0}
    assert (told["changes"], told["problem_count"], told["applied"]) == ([], 0, False)


@pytest.mark.django_db
def test_the_command_lists_problems_and_writes_nothing(tmp_path, capsys):
    path = tmp_path / "register.csv"
    path.write_bytes(csv_of([{"address": "1 A", "kind": "pomp", "tag": "PU"}]))
    for flags in ([], ["--apply"]):
        with pytest.raises(CommandError, match=r"[Nn]othing was written"):
            call_command("import_register", str(path), *flags)
        out = capsys.readouterr().out
        assert "row 2, column kind (B): kind is 'pomp': did you mean pump?" in out
        assert "1 rows read, 1 problem in 1 rows." in out
    assert not Property.objects.exists()
    with pytest.raises(CommandError, match="cannot be read"):
        call_command("import_register", str(tmp_path / "none.csv"))
    with pytest.raises(CommandError, match="--template"):
        call_command("import_register")


@pytest.mark.django_db
def test_the_commands_write_template_and_export(tmp_path, capsys):
    call_command("import_register", "--template", "csv")
    assert capsys.readouterr().out == template("csv").decode()
    call_command("import_register", "--template", "xlsx", "--output", str(tmp_path / "empty.xlsx"))
    assert openpyxl.load_workbook(tmp_path / "empty.xlsx").sheetnames == ["register", "columns"]
    source = tmp_path / "register.xlsx"
    write_register(source, rows=30, seed=2, newest=date(2025, 1, 1))
    call_command("import_register", str(source), "--apply")
    for name in ("out.csv", "out.xlsx"):
        call_command("export_register", str(tmp_path / name))
        call_command("import_register", str(tmp_path / name))
        assert "components: 30 unchanged" in capsys.readouterr().out


def test_made_files_are_the_same_for_the_same_seed(tmp_path):
    one, two = tmp_path / "one.csv", tmp_path / "two.csv"
    rows = write_register(one, rows=200, seed=7)
    write_register(two, rows=200, seed=7)
    assert one.read_bytes() == two.read_bytes()
    assert len(rows) == 200
    assert write_register(two, rows=200, seed=8) != rows
