"""Every problem is told by row and column, with the value, what is allowed and what to do; none is guessed away."""

import time
from pathlib import Path

import pytest

from core.act import by_user
from core.problem import BadInput, NotAllowed
from jobs.exchange.apply import apply
from jobs.exchange.found import MOST_LISTED
from jobs.exchange.report import as_json, report
from jobs.exchange.validate import check
from jobs.models import Component
from tests.factories import AT, UserFactory, make_cast
from tests.jobs.exchange.files import applied, checked, csv_of, office, row_counts, told
from tests.jobs.exchange.made_register import register_rows, write_register

pytestmark = pytest.mark.django_db

BOX = {"address": "1 A", "kind": "catch_basin", "tag": "CB-1"}


def only(found) -> str:
    """The message of the only problem."""
    assert found.problem_count == 1, [problem.message for problem in found.problems]
    return found.problems[0].message


@pytest.mark.parametrize(
    ("cells", "column", "words"),
    [
        ({"kind": "cach basin"}, "kind", "kind is 'cach basin': did you mean catch_basin? Give one of channel_run"),
        ({"kind": ""}, "kind", "kind is empty but tag is given"),
        ({"tag": ""}, "tag", "tag is empty: give the short label of the catch basin, such as CB-1."),
        ({"address": ""}, "address", "address is empty: give the street address"),
        ({"depth_in": "deep"}, "depth_in", "depth_in is 'deep': give a number from 4 to 144 in."),
        ({"depth_in": "18 in"}, "depth_in", "give a number from 4 to 144 in."),
        ({"depth_in": "18,5"}, "depth_in", "give a number from 4 to 144 in with a point, not a comma."),
        ({"depth_in": "nan"}, "depth_in", "give a number from 4 to 144 in."),
        ({"depth_in": "1e999"}, "depth_in", "give a number from 4 to 144 in."),
        ({"depth_in": "3"}, "depth_in", "depth_in is 3.0 in: give a number from 4 to 144 in."),
        ({"depth_in": "~~6"}, "depth_in", "give a number from 4 to 144 in."),
        ({"depth_in": "6", "invert_above_bottom_in": "6"}, "invert_above_bottom_in", "less than the depth of 6 in"),
        ({"horsepower_hp": "0.5"}, "horsepower_hp", "is not a dimension of a catch basin"),
        ({"installed_on": "5/4/2020"}, "installed_on", "give a day as YYYY-MM-DD, or a date cell."),
        ({"installed_on": "2020-02-30"}, "installed_on", "give a day as YYYY-MM-DD"),
        ({"installed_on": "2031-01-01"}, "installed_on", "give a date no later than"),
        ({"cover_in": "-1"}, "cover_in", "give a number from 0 to 240 in."),
        ({"canopy": "thick"}, "canopy", "give one of open, some, heavy."),
        ({"lat": "91"}, "lat", "lat is 91.0 degrees: give a number from -90 to 90 degrees."),
        ({"zone": "Nowhere/Else"}, "zone", "give an IANA time zone"),
        ({"notice_only": "perhaps"}, "notice_only", "give yes or no."),
        ({"goes_to": "CB-1"}, "goes_to", "the part itself"),
        ({"goes_to": "CB-2"}, "goes_to", "no part in the ground at 1 A has that tag; give its row that tag"),
        ({"goes_to": '"CB'}, "goes_to", "give tags (or uids)"),
        ({"sits_in": "CB-9"}, "sits_in", "no part in the ground at 1 A"),
        ({"place": "1 2; 3"}, "place", "points 'x y' in feet"),
        ({"place": "1 2; 9999 1"}, "place", "give a number from -5000 to 5000 ft"),
        ({"retired_on": "2020-01-01"}, "retired_reason", "retired_reason is empty: give 1 to 200 characters"),
        ({"retired_reason": "worn"}, "retired_on", "give the day it was taken out"),
        ({"owner_email": "oda@home.invalid"}, "owner_name", "owner_name is empty: name the owner"),
        ({"owner_name": "Oda", "owner_email": "oda at home"}, "owner_email", "give an address such as"),
        ({"hazard_1_note": "brown"}, "hazard_1_kind", "say what the hazard is"),
        ({"hazard_1_kind": "cat"}, "hazard_1_kind", "give one of cable"),
        ({"target_return_years": "10"}, "system", "name the system"),
        ({"system": "Patio", "target_return_years": "0"}, "target_return_years", "from 1 to 1000 years"),
        ({"drains_1_surface": "roof", "drains_1_ft2": "600"}, "drains_1_runoff_c", "starting layouts take roof 0.95"),
        (
            {"drains_1_surface": "roof", "drains_1_ft2": "0", "drains_1_runoff_c": "1"},
            "drains_1_ft2",
            "give more than 0",
        ),
        ({"uid": "12"}, "uid", "give the uid as the export wrote it"),
        ({"tag": "x" * 25}, "tag", "give at most 24 characters"),
    ],
)
def test_a_bad_cell_is_told(cells, column, words):
    found = checked({**BOX, **cells})
    assert words in only(found)
    problem = found.problems[0]
    assert (problem.row, problem.column) == (2, column)


def test_values_limits_and_units_stand_beside_the_words():
    found = checked({**BOX, "depth_in": "300"})
    (problem,) = found.problems
    assert (problem.value, problem.limit, problem.unit, problem.letter) == (
        300.0,
        "a number from 4 to 144 in",
        "in",
        "D",
    )
    assert problem.where == "row 2, column depth_in (D)"
    assert as_json(found, applied=False)["problems"] == [
        {
            "row": 2,
            "column": "depth_in",
            "letter": "D",
            "value": 300.0,
            "limit": "a number from 4 to 144 in",
            "unit": "in",
            "message": "depth_in is 300.0 in: give a number from 4 to 144 in.",
        }
    ]


def test_tags_are_unique_in_the_file_and_against_the_register():
    same = checked(BOX, {**BOX, "kind": "pump", "tag": "cb-1 "})
    assert told(same) == [(3, "tag")]
    assert "tag cb-1 stands in row 2 too (catch basin)" in same.problems[0].message
    applied({**BOX, "tag": "Straße"})
    other = checked({**BOX, "kind": "pump", "tag": "STRASSE"})
    assert "is a catch basin in the register" in only(other)
    new = checked({**BOX, "tag": "Straße", "uid": "11111111-1111-4111-8111-111111111111"})
    assert "tag Straße is taken by a catch basin in the register" in only(new)
    assert checked({**BOX, "address": "2 B", "tag": "Straße"}).problem_count == 0


def test_tags_do_not_change_places_in_one_file():
    applied(BOX, {**BOX, "tag": "CB-2"})
    one, two = (str(Component.objects.get(tag=tag).uid) for tag in ("CB-1", "CB-2"))
    found = checked({**BOX, "tag": "CB-2", "uid": one}, {**BOX, "tag": "CB-1", "uid": two})
    assert told(found) == [(2, "tag"), (3, "tag")]
    assert "import that first" in found.problems[0].message


def test_rows_of_one_property_must_agree():
    found = checked(
        {**BOX, "lat": "41", "owner_name": "Oda", "system": "Patio", "target_return_years": "10"},
        {**BOX, "tag": "CB-2", "lat": "42", "owner_name": "Bram", "system": "patio", "target_return_years": "25"},
    )
    assert told(found) == [(3, "lat"), (3, "owner_name"), (3, "target_return_years")]
    assert "lat is '42' here but '41' in row 2" in found.problems[0].message


def test_the_same_address_in_two_towns_needs_its_town():
    rows = ({**BOX, "city": "Mossgate"}, {**BOX, "city": "Fernby"}, {**BOX, "tag": "CB-2"})
    found = checked(*rows)
    assert told(found) == [(4, "city")]
    assert "2 properties have the address '1 A': give the city too." in found.problems[0].message
    applied(*rows[:2])
    assert told(checked({**BOX, "tag": "CB-2"})) == [(2, "city")]
    assert checked({**BOX, "city": "fernby"}).counts["component"].unchanged == 1


def test_holders_are_of_the_right_kind():
    found = checked(
        BOX,
        {**BOX, "kind": "pump", "tag": "PU", "sits_in": "CB-1"},
        {**BOX, "kind": "grate", "tag": "GR", "part_of": "CB-1"},
        {**BOX, "kind": "grate", "tag": "", "part_of": ""},
        {**BOX, "kind": "outfall", "tag": "OF", "sits_in": "CB-1"},
        {**BOX, "kind": "outfall", "tag": "OF-2", "drains_1_surface": "roof"},
    )
    assert told(found) == [(3, "sits_in"), (4, "tag"), (5, "part_of"), (6, "sits_in"), (7, "drains_1_surface")]
    assert "give a sump basin at 1 A" in found.problems[0].message


def test_what_was_taken_out_is_not_changed_by_a_file():
    gone = {**BOX, "retired_on": "2024-01-01", "retired_reason": "cracked"}
    applied(BOX, {**gone, "tag": "CB-0"})
    in_ground = {**gone, "uid": str(Component.objects.get(tag="CB-1").uid)}
    assert "is in the ground in the register: take it out on its page" in only(checked(in_ground))
    uid = str(Component.objects.get(tag="CB-0").uid)
    other_day = {**gone, "tag": "CB-0", "uid": uid, "retired_on": "2024-02-02"}
    assert "that is not changed by a file" in only(checked(other_day))
    other_end = {**gone, "tag": "CB-0", "uid": uid, "retired_because": "failed"}
    assert "no kind of end: that is not changed by a file" in only(checked(other_end))
    assert "its reason is given" in only(checked({**BOX, "retired_because": "failed"}))
    assert checked({**gone, "tag": "CB-0"}).counts["component"].unchanged == 1
    assert told(checked(BOX, {**BOX, "tag": "CB-5", "goes_to": uid})) == [(3, "goes_to")]
    future = checked({**gone, "retired_on": "2027-01-01"})
    assert "give a date no later than 2026-05-05" in only(future)


def test_roles_are_not_ended_or_redated_by_a_file():
    owner = {"address": "1 A", "owner_name": "Oda", "owner_from": "2020-01-01"}
    applied(owner)
    later = checked({**owner, "owner_from": "2021-01-01"})
    assert "but the register says 2020-01-01" in only(later)
    twice = checked({**owner, "owner_2_name": "oda"})
    assert "names the same person twice as owner" in only(twice)
    backwards = checked(
        {"address": "2 B", "tenant_name": "Bram", "tenant_from": "2020-01-02", "tenant_until": "2020-01-01"}
    )
    assert "give a day from 2020-01-02 on" in only(backwards)


def test_uids_of_other_things_are_refused():
    applied({**BOX, "system": "Patio", "hazard_1_kind": "dog"})
    part = Component.objects.get()
    assert "belongs to a part of another property" in only(checked({**BOX, "address": "2 B", "uid": str(part.uid)}))
    twice = checked({**BOX, "uid": str(part.uid)}, {**BOX, "tag": "CB-2", "uid": str(part.uid)})
    assert (3, "uid") in told(twice)
    elsewhere = checked({**BOX, "address": "2 B", "system": "Patio", "system_uid": str(part.system.uid)})
    assert "belongs to a system of another property" in only(elsewhere)
    second = checked({**BOX, "property_uid": "11111111-1111-4111-8111-111111111111"})
    assert f"the register has this address as {part.property.uid}" in only(second)
    assert "No property has the uid" in only(
        checked({"property_uid": "11111111-1111-4111-8111-111111111111", "kind": "", "tag": ""})
    )


def test_headers_that_are_not_known_are_told_with_what_was_meant():
    found = checked({**BOX, "inside_dept_in": "4", "Remarks": "x"})
    assert told(found) == [(1, "inside_dept_in"), (1, "Remarks")]
    assert "did you mean inside_depth_in?" in found.problems[0].message
    data = b"address,kind,tag,tag,\r\n1 A,catch_basin,CB-1,CB-2,stray\r\n"
    twice = check(act=office(), data=data)
    assert told(twice) == [(1, "tag again"), (2, "E")]
    assert told(check(act=office(), data=b"kind,tag\r\npump,PU\r\npump,PV\r\n")) == [(1, "address")]


@pytest.mark.parametrize(
    "data", [b"", b"\r\n\r\n", b"apples,pears\r\n1,2\r\n", b"\x00\x01\x02\xff\x00", b"PK\x03\x04broken"]
)
def test_a_file_that_is_no_table_is_refused(data):
    with pytest.raises(BadInput) as refused:
        check(act=office(), data=data)
    assert refused.value.code == "not_a_table"


def test_only_the_office_imports():
    crew = by_user(UserFactory(), via="api", at=AT)
    for service in (check, apply):
        with pytest.raises(NotAllowed):
            service(act=crew, data=csv_of([BOX]))
        with pytest.raises(NotAllowed):
            service(act=make_cast().act("homeowner"), data=csv_of([BOX]))


def test_problems_are_listed_to_a_thousand_and_then_counted():
    rows = [{**BOX, "tag": f"CB-{n}", "depth_in": "deep"} for n in range(MOST_LISTED + 7)]
    found = checked(*rows)
    assert (found.problem_count, len(found.problems), found.bad_rows) == (1007, 1000, 1007)
    words = report(found, applied=False)
    assert "row 1001, column depth_in (D): depth_in is 'deep'" in words
    assert "... and 7 more problems." in words
    assert "1,007 rows read, 1,007 problems in 1,007 rows." in words


def test_three_thousand_rows_with_forty_bad_ones_are_reported_whole(tmp_path: Path):
    rows = list(register_rows(3000, seed=40))
    bad = range(10, 3000, 75)
    for place in bad:
        rows[place]["cover_in"] = "a lot"
    assert len(bad) == 40
    before = row_counts()
    started = time.perf_counter()
    found = check(act=office(), data=csv_of(rows))
    seconds = time.perf_counter() - started
    assert told(found) == [(place + 2, "cover_in") for place in bad]
    assert row_counts() == before
    # About 1.5 s on two cores; the limit leaves room for a busy machine.
    assert seconds < 15


def test_three_thousand_rows_are_applied_and_change_nothing_the_second_time(
    tmp_path: Path, django_assert_max_num_queries
):
    path = tmp_path / "register.csv"
    write_register(path, rows=3000, seed=1)
    started = time.perf_counter()
    apply(act=office(), data=path.read_bytes())
    assert time.perf_counter() - started < 30
    assert Component.objects.count() == 3000
    before = row_counts()
    with django_assert_max_num_queries(100):
        again = apply(act=office(), data=path.read_bytes())
    assert not any(count.add or count.change or count.remove for count in again.counts.values())
    assert row_counts() == before


def test_what_was_meant_is_another_part():
    found = checked({**BOX, "goes_to": "CB2"}, {**BOX, "tag": "CB-2"})
    assert "goes_to is CB2: no part in the ground at 1 A has that tag; did you mean CB-2?" in only(found)


def test_gate_codes_are_never_repeated():
    found = checked({**BOX, "gate_code": "4411"}, {**BOX, "tag": "CB-2", "gate_code": "5522"})
    assert told(found) == [(3, "gate_code")]
    applied({**BOX, "gate_code": "4411"})
    changed = checked({**BOX, "gate_code": "5522" * 11})
    also = checked({**BOX, "gate_code": "6633"})
    assert also.changes[0].field == "gate_code"
    for each in (found, changed, also):
        words = report(each, applied=False) + str(as_json(each, applied=False))
        assert not any(code in words for code in ("4411", "5522", "6633"))
