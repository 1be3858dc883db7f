"""Nobody overwrites what they have not seen: ETag, If-Match, and both versions shown."""

import pytest

from tests.factories import CustomerFactory, HazardFactory, JobFactory, SystemFactory

pytestmark = pytest.mark.django_db


def test_a_change_needs_the_version_it_changes(cast, office):
    """428, RFC 6585 section 3."""
    path = f"/properties/{cast.property.uid}/"
    answer = office.patch(path, {"city": "Lower Fernby"})
    assert answer.status_code == 428
    assert '"1"' in answer.json()["detail"]
    cast.property.refresh_from_db()
    assert cast.property.city == "Upper Fernby"


def test_a_change_with_the_version_seen_is_made_and_the_next_one_named(cast, office):
    path = f"/properties/{cast.property.uid}/"
    seen = office.get(path)["ETag"]
    answer = office.patch(path, {"city": "Lower Fernby"}, if_match=seen)
    assert answer.status_code == 200
    assert answer.json()["city"] == "Lower Fernby"
    assert answer["ETag"] != seen
    assert office.get(path)["ETag"] == answer["ETag"]


@pytest.mark.parametrize("noun", ["customers", "systems", "jobs"])
def test_a_stale_version_is_refused_and_both_are_shown(cast, office, noun):
    """412, RFC 9110 section 15.5.13: what was sent, what is there, and the record as the other one left it."""
    makers = {"customers": CustomerFactory, "systems": SystemFactory, "jobs": JobFactory}
    name = "title" if noun == "jobs" else "name"
    path = f"/{noun}/{makers[noun]().uid}/"
    seen = office.get(path)["ETag"]
    assert office.patch(path, {name: "First"}, if_match=seen).status_code == 200
    answer = office.patch(path, {name: "Second"}, if_match=seen)
    assert answer.status_code == 412
    assert answer.json()["yours"] == {name: "Second"}
    assert answer.json()["present"][name] == "First"
    assert office.get(path).json()[name] == "First"


@pytest.mark.parametrize(
    ("if_match", "status"),
    [("*", 200), ('"7", "1"', 200), ('W/"1"', 412), ('"one"', 412), ("1", 400), ('"1" "2"', 400), ('"1', 400)],
)
def test_if_match_as_rfc_9110_13_1_1_has_it(cast, office, if_match, status):
    """A list of strong tags or *; a weak tag never matches; what is no list is refused."""
    answer = office.patch(f"/properties/{cast.property.uid}/", {"city": "Lower Fernby"}, if_match=if_match)
    assert answer.status_code == status, answer.content


def test_small_records_have_no_version_and_the_last_word_holds(cast, office):
    hazard = HazardFactory(property=cast.property)
    answer = office.patch(f"/hazards/{hazard.uid}/", {"note": "to the gate light"})
    assert answer.status_code == 200
    assert "ETag" not in answer
    assert answer.json()["note"] == "to the gate light"
