"""What cannot be taken is refused with a problem document (RFC 9457) that names field, value and limit; never a 500."""

import json

import pytest

from tests.factories import TODAY

pytestmark = pytest.mark.django_db
PROBLEM = "application/problem+json"


def raw(caller, body: bytes, *, path: str = "/customers/", media_type: str = "application/json", **headers: str):
    """Bytes as they are."""
    named = {**caller.headers, **{name.replace("_", "-"): value for name, value in headers.items()}}
    return caller.client.post(f"/api/v1{path}", body, content_type=media_type, headers=named)


def errors(answer) -> dict[str, str]:
    assert answer["Content-Type"] == PROBLEM
    body = answer.json()
    assert body["status"] == answer.status_code
    assert body["title"]
    return {item["field"]: item["message"] for item in body["errors"]}


def test_an_unknown_field_is_named_with_those_there_are(office):
    answer = office.post("/customers/", {"name": "Nell Osier", "emial": "nell@home.invalid"})
    assert answer.status_code == 422
    assert "email" in errors(answer)["emial"]


@pytest.mark.parametrize(
    ("path", "body", "field", "says"),
    [
        ("/customers/", {}, "name", "120"),
        ("/customers/", {"name": ""}, "name", "120"),
        ("/customers/", {"name": "x" * 121}, "name", "120"),
        ("/customers/", {"name": 7}, "name", "text"),
        ("/customers/", {"name": None}, "name", "text"),
        ("/customers/", {"name": "Nell", "kind": "firm"}, "kind", "association"),
        ("/customers/", {"name": "Nell", "email": "nell at home"}, "email", "name@example.org"),
        ("/properties/", {"address": "1 Low Lane", "lat": 91}, "lat", "90"),
        ("/properties/", {"address": "1 Low Lane", "lat": "north"}, "lat", "90"),
        ("/properties/", {"address": "1 Low Lane", "zone": "Mars/Olympus"}, "zone", "IANA"),
        ("/properties/", {"address": "1 Low Lane", "notice_only": "yes"}, "notice_only", "true or false"),
        ("/properties/", {"address": "1 Low Lane", "closed_at": "2026-05-04T13:00:00"}, "closed_at", "zone"),
        ("/properties/", {"address": "1 Low Lane", "closed_at": "0001-01-01T00:00:00+14:00"}, "closed_at", "zone"),
        ("/properties/", {"address": "1 Low Lane", "area": "not-a-uid"}, "area", "uid"),
        ("/areas/", {"name": "Hill", "uid": "17"}, "uid", "UUID"),
        ("/customers/", {"name": "a\x00b"}, "name", "NUL"),
    ],
)
def test_each_bad_value_is_named_with_its_limit(office, path, body, field, says):
    answer = office.post(path, body)
    assert answer.status_code == 422, answer.content
    assert says in errors(answer)[field]


@pytest.mark.parametrize("day", ["0001-01-01", "1899-12-31", "2201-01-01", "2026-02-30", "4 May", 20260504])
def test_days_outside_the_years_we_know_are_refused(cast, office, day):
    body = {"property": str(cast.property.uid), "name": "Back yard", "installed_on": day}
    answer = office.post("/systems/", body)
    assert answer.status_code == 422
    assert "1900-01-01" in errors(answer)["installed_on"]


@pytest.mark.parametrize(
    ("value", "field"),
    [("1e400", "lat"), ("9223372036854775808", "lat"), ('"\\ud800"', "city"), ('"\\u0000"', "city")],
)
def test_what_no_column_holds_is_refused_by_field(office, value, field):
    """Numbers over a double or 64 bits, half a surrogate pair, NUL."""
    answer = raw(office, b'{"address": "1 Low Lane", "%s": %s}' % (field.encode(), value.encode()), path="/properties/")
    assert answer.status_code == 422, answer.content
    assert field in errors(answer)


@pytest.mark.parametrize(
    "body",
    [
        b"{",
        b"name=Nell",
        b'{"name": NaN}',
        b'{"name": "Nell", "name": "Tam"}',
        b"\xff\xfe{}",
        b'{"name": ' + b"[" * 50 + b"]" * 50 + b"}",
        b"[" * 100_000,
        b'{"name": 1' + b"0" * 5000 + b"}",
    ],
    ids=["cut", "form", "NaN", "twice", "utf-16", "deep", "deeper", "long-number"],
)
def test_what_is_no_json_is_refused(office, body):
    """RFC 8259; a name twice and endless depth besides."""
    answer = raw(office, body)
    assert answer.status_code == 400, answer.content
    assert answer["Content-Type"] == PROBLEM


@pytest.mark.parametrize("body", [b"[]", b"7", b'"text"', b"null", b"true"])
def test_json_that_is_no_object_is_refused(office, body):
    assert raw(office, body).status_code == 422


def test_a_body_over_the_limit_is_refused(office):
    answer = raw(office, b'{"name": "' + b"x" * 1_000_001 + b'"}')
    assert answer.status_code == 413
    assert "1000000" in answer.json()["detail"]


def test_the_errors_of_http_itself_are_problem_documents(office):
    """RFC 9110: 404, 405 with Allow, 406, 415."""
    found = {
        404: office.get("/no/such/address/"),
        405: office.send("DELETE", "/customers/"),
        406: office.get("/customers/", accept="text/csv"),
        415: raw(office, b"<a/>", media_type="text/xml"),
    }
    for status, answer in found.items():
        assert answer.status_code == status, answer.content
        assert answer["Content-Type"] == PROBLEM, status
        assert json.loads(answer.content)["status"] == status
    assert set(found[405]["Allow"].split(", ")) >= {"GET", "POST"}


@pytest.mark.parametrize("address", ["/api/", "/api/v2/customers/", "/api/v1/customers", "/api/v1/customers/17/"])
def test_every_address_under_api_answers_with_problem_documents(office, address):
    answer = office.get(address)
    assert answer.status_code == 404
    assert answer["Content-Type"] == PROBLEM


def test_without_a_token_the_way_in_is_named(nobody):
    """401 with a challenge, RFC 9110 section 15.5.2."""
    answer = nobody.get("/customers/")
    assert answer.status_code == 401
    assert answer["WWW-Authenticate"].startswith("Bearer ")
    assert answer["Content-Type"] == PROBLEM


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("nosuch=1", "nosuch"),
        ("kind=firm", "kind"),
        ("property=17", "property"),
        ("cursor=!!!", "cursor"),
        ("cursor=WyJhIl0", "cursor"),
        ("cursor=Wzk5OTk5OTk5OTk5OTk5OTk5OTk5OV0", "cursor"),
        ("page_size=0", "page_size"),
        ("page_size=201", "page_size"),
        ("page_size=ten", "page_size"),
        ("email=a%00b", "email"),
    ],
)
def test_a_filter_that_is_none_is_refused_by_name(office, query, field):
    """A slip of the pen must not show everything."""
    answer = office.get(f"/customers/?{query}")
    assert answer.status_code == 422, answer.content
    assert field in errors(answer)


def test_a_bad_dimension_is_named_with_value_limit_and_unit(cast, office):
    body = {
        "property": str(cast.property.uid),
        "kind": "catch_basin",
        "tag": "CB-7",
        "dimensions": {"depth_in": 1000, "dpeth_in": 3},
    }
    found = errors(office.post("/components/", body))
    assert "144 in" in found["dimensions.depth_in"]
    assert "depth_in" in found["dimensions.dpeth_in"]


def test_dimensions_of_another_kind_are_refused(cast, office):
    body = {
        "property": str(cast.property.uid),
        "kind": "catch_basin",
        "dimensions": {"kind": "pump", "horsepower_hp": 0.5},
    }
    answer = office.post("/components/", body)
    assert answer.status_code == 422
    assert "dimensions.kind" in errors(answer)


def test_nothing_at_all_is_an_object_without_fields(office):
    assert "name" in errors(raw(office, b""))


def test_a_role_may_not_end_before_it_began(cast, office):
    role = cast.role
    answer = office.post(f"/roles/{role.uid}/end/", {"until_date": "2019-12-31"})
    assert answer.status_code == 422
    assert "2020-01-01" in errors(answer)["until_date"]
    assert office.post(f"/roles/{role.uid}/end/", {"until_date": str(TODAY)}).status_code == 200
