"""The checker catches each seeded fault of a server: rows H, and the rows one answer alone can show."""

from dataclasses import replace

import pytest
from django.http import HttpResponse

from tests.feedcheck import HTTP_RULES, check_feed, check_http
from tests.feedcheck.asking import http_date
from tests.feedcheck.http import ANSWER_RULES
from tests.maintenance.calendar.model_site import PATH, REVOKED, WRONG, ModelSite, is_model_time_right
from tests.maintenance.calendar.samples import NOW, make_feed

SEEDS = {
    "H01": ["H01-empty", "H01-login"],
    "H02": ["H02", "H02-html"],
    "H03": ["H03"],
    "H04": ["H04"],
    "H05": ["H05", "H05-list"],
    "H06": ["H06-body", "H06-headers"],
    "H07": ["H07"],
    "H08": ["H08-form", "H08-future"],
    "H09": ["H09-never", "H09-always"],
    "H10": ["H10"],
    "H11": ["H11", "H11-public"],
    "H12": ["H12-405", "H12-tag", "H12-body"],
    "H13": ["H13-forced", "H13-differs"],
    "H14": ["H14"],
    "H15": ["H15-shared", "H15-lost"],
    "H16": ["H16"],
    "H17": ["H17-csrf", "H17-crash", "H17-done", "H17-allow"],
    "H18": ["H18"],
    "H19": ["H19-redirect", "H19-ok", "H19-revoked"],
    "H20": ["H20-html", "H20-status"],
    "H21": ["H21"],
    "H23": ["H23"],
}
CASES = [(row_id, fault) for row_id, faults in SEEDS.items() for fault in faults]


def failed(site: ModelSite, path: str = PATH) -> list[str]:
    return check_http(site, path, WRONG, revoked_path=REVOKED, now=NOW)


def test_the_right_server_fails_no_row():
    assert is_model_time_right()
    assert failed(ModelSite()) == []


def test_every_h_row_has_a_seeded_fault():
    assert set(SEEDS) | {"H22", "H24"} == set(HTTP_RULES)


@pytest.mark.parametrize(("row_id", "fault"), CASES, ids=[fault for _, fault in CASES])
def test_the_seeded_fault_is_caught(row_id: str, fault: str):
    assert row_id in failed(ModelSite(fault))


def test_h22_a_feed_without_an_ics_name_is_caught():
    def unnamed(method, path, headers):
        answer = ModelSite()(method, PATH if path == "/feeds/one" else path, headers)
        return replace(answer, headers={k: v for k, v in answer.headers.items() if k != "content-disposition"})

    assert check_http(unnamed, "/feeds/one", WRONG, now=NOW) == ["H22"]


def test_h24_a_long_address_is_caught():
    assert check_http(ModelSite(), PATH, WRONG, base="https://" + "a" * 230 + ".example", now=NOW) == ["H24"]


def test_a_method_in_the_media_type_alone_is_caught():
    site = ModelSite()
    answer = site("GET", PATH, {})
    spoiled = replace(
        answer, headers={**answer.headers, "content-type": "text/calendar; charset=utf-8; method=PUBLISH"}
    )
    assert check_feed(answer, now=NOW) == []
    assert check_feed(spoiled, now=NOW) == ["C04"]


def test_a_django_response_is_checked_with_its_headers():
    response = HttpResponse(make_feed(), content_type="text/calendar")
    response.set_cookie("seen", "1")
    found = check_feed(response, now=NOW)
    assert found == ["H02", "H03", "H08", "H11", "H21"]
    assert set(found) <= set(ANSWER_RULES)


def test_http_date_takes_only_the_fixed_form():
    # RFC 9110 5.6.7: the first is the section's own example of IMF-fixdate, the other two are its obsolete forms.
    assert http_date("Sun, 06 Nov 1994 08:49:37 GMT") is not None
    assert http_date("Sunday, 06-Nov-94 08:49:37 GMT") is None
    assert http_date("Sun Nov  6 08:49:37 1994") is None
    assert http_date("Mon, 06 Nov 1994 08:49:37 GMT") is None
