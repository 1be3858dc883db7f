"""Files as spreadsheets really write them: encodings, separators, workbooks; and files that mean harm."""

import io
import zipfile
from datetime import date, datetime

import openpyxl
import pytest

from core import limits
from core.problem import BadInput
from jobs.exchange import xlsx_table
from jobs.exchange.cells import parse_refs, unguarded
from jobs.exchange.export import export_register
from jobs.exchange.table_reader import letter
from jobs.exchange.table_writer import guarded
from jobs.exchange.validate import check
from jobs.models import Component, Property
from tests.jobs.exchange.files import applied, csv_of, office, told

pytestmark = pytest.mark.django_db

ROW = {"address": "1 Peña Row", "kind": "catch_basin", "tag": "Größe", "depth_in": "18"}


def read(data: bytes):
    """A dry run of raw bytes."""
    return check(act=office(), data=data)


def workbook(*rows, title="register", **more_sheets) -> bytes:
    """An XLSX of these rows."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = title
    for row in rows:
        sheet.append(row)
    for name in more_sheets:
        book.create_sheet(name)
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


@pytest.mark.parametrize(
    ("data", "note"),
    [
        (csv_of([ROW]), None),
        (b"\xef\xbb\xbf" + csv_of([ROW]), None),
        (csv_of([ROW], separator=";"), "The columns are separated by semicolons."),
        (csv_of([ROW], separator="\t"), "The columns are separated by tabs."),
        (b"sep=;\r\n" + csv_of([ROW], separator=";"), "The columns are separated by semicolons."),
        (csv_of([ROW]).decode().encode("cp1252"), "it was read as Latin-1 (Windows-1252)"),
        (csv_of([ROW]).decode().encode("utf-16"), "The file was read as UTF-16."),
        (csv_of([ROW]).replace(b"\r\n", b"\n"), None),
        (workbook(list(ROW), list(ROW.values())), None),
    ],
)
def test_how_a_file_was_read_is_said(data, note):
    found = read(data)
    assert found.problem_count == 0
    assert found.draft.properties[0].values["address"] == "1 Peña Row"
    assert found.draft.properties[0].parts[0].tag == "Größe"
    assert [note in text for text in found.notes] == ([True] if note else [])


def test_latin_1_says_where_it_was_seen():
    (note,) = read(csv_of([ROW]).decode().encode("latin-1")).notes
    assert "first seen in line 2" in note


def test_names_of_columns_are_read_as_people_write_them():
    found = read(b"Address,KIND,Tag,Depth in,Owner 1 name\n1 A,Catch Basin,CB-1,18,Oda\n")
    assert found.problem_count == 0
    assert found.draft.properties[0].parts[0].dimensions == {"depth_in": 18.0}
    assert found.counts["role"].add == 1


def test_blank_rows_count_but_say_nothing():
    found = read(b"\naddress,kind,tag\n\n1 A,catch_basin,CB-1\n , ,\n1 A,catch_basin,CB-1\n")
    assert (found.rows, told(found)) == (2, [(6, "tag")])


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b'address,kind,tag\n1 A,pump,"PU\n', "broken quoting"),
        (b'address,kind,tag\n1 A,pump,"PU"x\n', "Row 2 (line 2) has broken quoting"),
        (b"address,kind,tag\n1 A,pump," + b"x" * 140_000, "a cell of more than 131,072 characters"),
        (b"address," + b",".join(b"c%d" % n for n in range(1100)), "more than 1,000 columns"),
        (b"\xff\xfea", "broken"),
    ],
)
def test_a_broken_csv_says_where(data, words):
    with pytest.raises(BadInput, match=words.replace("(", r"\(").replace(")", r"\)")):
        read(data)


def test_a_file_too_large_is_refused_before_it_is_read():
    with pytest.raises(BadInput, match="give at most 20,971,520 bytes"):
        read(b"a" * (limits.FILE_BYTES + 1))


def test_cells_of_a_workbook():
    found = read(
        workbook(
            ["address", "kind", "tag", "installed_on", "depth_in", "outlet_diameter_in", "postcode", "notice_only"],
            ["1 A", "catch_basin", 12, date(2020, 5, 1), 18, "~4", 501.0, True],
            ["1 A", "catch_basin", "CB-2", datetime(2020, 5, 1), 18.5, 4.0, None, None],
        )
    )
    assert found.problem_count == 0
    one, two = found.draft.properties[0].parts
    assert (one.tag, two.tag) == ("12", "CB-2")
    assert one.values["installed_on"] == two.values["installed_on"] == date(2020, 5, 1)
    assert (one.dimensions, two.dimensions["depth_in"]) == ({"depth_in": 18.0, "outlet_diameter_in": 4.0}, 18.5)
    assert one.certainty == {"depth_in": "measured", "outlet_diameter_in": "assumed"}
    assert (found.draft.properties[0].values["postcode"], found.draft.properties[0].values["notice_only"]) == (
        "501",
        True,
    )


def test_formulas_errors_and_dates_of_the_spreadsheet_are_told():
    found = read(
        workbook(
            ["address", "kind", "tag", "depth_in", "installed_on"],
            ["1 A", "catch_basin", "=A2&1", "=9*2", "2020-05-01"],
            ["1 A", "catch_basin", date(2026, 3, 1), "#REF!", datetime(2020, 5, 1, 13, 30)],
            ["1 A", "catch_basin", "CB-3", date(2026, 3, 1), 43952],
        )
    )
    assert told(found) == [
        (2, "tag"),
        (2, "depth_in"),
        (3, "tag"),
        (3, "installed_on"),
        (3, "depth_in"),
        (4, "installed_on"),
        (4, "depth_in"),
    ]
    words = [problem.message for problem in found.problems]
    assert words[0] == "tag holds a formula: copy the column and paste it as values."
    assert "the spreadsheet made a date of it; format the column as text" in words[2]
    assert "the error #REF!" in words[4]


def test_the_sheet_named_register_is_read_else_the_first():
    rows = (list(ROW), list(ROW.values()))
    assert read(workbook(*rows, title="Register", notes=None)).notes == ()
    assert "none is named register: the first was read" in read(workbook(*rows, title="yards", notes=None)).notes[0]


def _with(data: bytes, name: str, change) -> bytes:
    """A workbook with one of its files changed."""
    source = zipfile.ZipFile(io.BytesIO(data))
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as target:
        for item in source.namelist():
            target.writestr(item, change(source.read(item)) if item == name else source.read(item))
    return buffer.getvalue()


SHEET = "xl/worksheets/sheet1.xml"


def test_a_workbook_that_unpacks_to_too_much_is_refused(monkeypatch):
    good = workbook(list(ROW), list(ROW.values()))
    monkeypatch.setattr(xlsx_table, "MOST_UNPACKED_BYTES", 100_000)
    assert read(good).problem_count == 0
    bomb = _with(good, SHEET, lambda text: text + b" " * 200_000)
    assert len(bomb) < 20_000
    with pytest.raises(BadInput, match="unpacks to 2"):
        read(bomb)


def test_entities_in_a_workbook_are_refused():
    laughs = b'<!DOCTYPE w [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]>'
    bomb = _with(workbook(list(ROW), list(ROW.values())), SHEET, lambda text: laughs + text)
    with pytest.raises(BadInput, match="declarations that are not taken"):
        read(bomb)
    outside = b'<!DOCTYPE w [<!ENTITY x SYSTEM "file:///etc/hostname">]>'
    with pytest.raises(BadInput, match="declarations that are not taken"):
        read(_with(workbook(list(ROW)), "xl/workbook.xml", lambda text: outside + text))


DAMAGE = {"cut": lambda text: text[: len(text) // 2], "empty": lambda text: b"", "hollow": lambda text: b"<a/>"}


@pytest.mark.parametrize("name", ["xl/workbook.xml", SHEET, "[Content_Types].xml", "xl/styles.xml"])
@pytest.mark.parametrize("damage", DAMAGE)
def test_a_broken_workbook_is_refused_in_words(name, damage):
    broken = _with(workbook(list(ROW), list(ROW.values())), name, DAMAGE[damage])
    if (name, damage) == ("xl/styles.xml", "hollow"):  # no styles at all: the values are whole
        assert read(broken).rows == 1
        return
    with pytest.raises(BadInput) as refused:
        read(broken)
    assert refused.value.code == "not_a_table"


def test_a_zip_that_is_no_workbook_is_refused():
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("register.csv", "address,kind,tag")
    with pytest.raises(BadInput, match="no XLSX workbook"):
        read(buffer.getvalue())


def test_a_sheet_with_a_row_far_down_does_not_hang(monkeypatch):
    monkeypatch.setattr(xlsx_table, "MOST_SHEET_ROWS", 1000)
    book = openpyxl.Workbook()
    book.active.append(list(ROW))
    book.active["A900000"] = "far away"
    buffer = io.BytesIO()
    book.save(buffer)
    with pytest.raises(BadInput, match="more than 10,000,000 cells"):
        read(buffer.getvalue())


@pytest.mark.parametrize("text", ["=1+1", "+1 555 0100", "-", "@home", "'=x", "''-y", "plain", "'plain", "~=x", ""])
def test_guarded_text_comes_back(text):
    """What a spreadsheet would run starts with = + - @ (common practice, no source)."""
    assert unguarded(guarded(text)) == text
    assert guarded(text)[:1] not in ("=", "+", "-", "@")


def test_text_is_guarded_on_export_and_numbers_are_not():
    applied(
        {
            "address": "=1 A",
            "lon": "-74.5",
            "owner_name": "@Oda",
            "owner_phone": "+1 555 0100",
            "kind": "gravity_pipe",
            "tag": "-2",
            "slope_percent": "-1.5",
            "place": "-3 4",
        }
    )
    data = export_register(act=office()).decode()
    header, row = (line.split(",") for line in data.splitlines())
    cells = dict(zip(header, row, strict=True))
    assert (cells["address"], cells["owner_name"], cells["owner_phone"]) == ("'=1 A", "'@Oda", "'+1 555 0100")
    assert (cells["tag"], cells["place"]) == ("'-2", "'-3 4")
    assert (cells["lon"], cells["slope_percent"]) == ("-74.5", "-1.5")
    assert (Property.objects.get().address, Component.objects.get().tag) == ("=1 A", "-2")
    sheet = openpyxl.load_workbook(io.BytesIO(export_register(act=office(), file_format="xlsx"))).active
    kinds = {name.value: (cell.value, cell.data_type) for name, cell in zip(sheet[1], sheet[2], strict=True)}
    assert (kinds["address"], kinds["lon"]) == (("'=1 A", "s"), (-74.5, "n"))


def test_tags_in_a_list():
    assert [(ref.text, ref.assumed) for ref in parse_refs('CB-1;~ "A;""B""" ; c d;')] == [
        ("CB-1", False),
        ('A;"B"', True),
        ("c d", False),
    ]
    with pytest.raises(ValueError, match="x"):
        parse_refs('"a"x')


def test_letters_of_columns():
    """A to Z, then AA: as spreadsheets count; XFD is the last column of an XLSX sheet (ECMA-376, 16,384 columns)."""
    assert [letter(place) for place in (0, 25, 26, 701, 702, 16_383)] == ["A", "Z", "AA", "ZZ", "AAA", "XFD"]
