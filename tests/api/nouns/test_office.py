"""Rules, rain, agreements, feeds, messages and calls: what the office does over the API."""

from datetime import timedelta

import pytest

from maintenance.models import RainRow, RuleVersion
from tests.factories import (
    AT,
    TODAY,
    CallToMakeFactory,
    ComponentFactory,
    DueWindowFactory,
    MessageFactory,
    RuleFactory,
    SystemFactory,
)

pytestmark = pytest.mark.django_db
RULE = {
    "kind": "catch_basin",
    "task": "clean",
    "basis": "calendar",
    "standing": "firm",
    "numbers": {"every_months": 6},
    "minutes": 20,
    "words_office": "clean twice a year",
    "words_homeowner": "We clean this twice a year.",
    "source": "common practice, no source",
}


def test_a_rule_is_added_changed_and_every_version_kept(office):
    made = office.post("/rules/", RULE)
    assert made.status_code == 201, made.content
    path = f"/rules/{made.json()['uid']}/"
    assert office.patch(path, {"minutes": 30}).status_code == 428
    changed = office.patch(path, {"minutes": 30, "why": "slower than thought"}, if_match=made["ETag"])
    assert changed.status_code == 200, changed.content
    assert changed.json()["version"]["minutes"] == 30
    stale = office.patch(path, {"minutes": 40}, if_match=made["ETag"])
    assert stale.status_code == 412
    assert stale.json()["present"]["version"]["minutes"] == 30
    versions = office.get(path + "versions/").json()
    assert [version["minutes"] for version in versions] == [30, 20]
    assert versions[0]["why"] == "slower than thought"
    assert RuleVersion.objects.filter(rule__uid=made.json()["uid"]).count() == 2


def test_numbers_that_do_not_fit_the_basis_are_named(office):
    answer = office.post("/rules/", {**RULE, "numbers": {"every_months": 0}})
    assert answer.status_code == 422
    assert "every_months" in answer.content.decode()


def test_a_rule_is_overridden_at_one_part_and_taken_back(office):
    part = ComponentFactory()
    rule = office.post("/rules/", RULE).json()
    body = {
        "rule": rule["uid"],
        "property": str(part.property.uid),
        "component": str(part.uid),
        "numbers": {"every_months": 3},
        "why": "under a plane tree",
    }
    made = office.post("/rule-overrides/", body)
    assert made.status_code == 201, made.content
    ended = office.post(f"/rule-overrides/{made.json()['uid']}/end/", {"why": "tree felled"})
    assert ended.status_code == 201
    assert ended.json()["ended"] is True
    rows = office.get(f"/rule-overrides/?component={part.uid}").json()["results"]
    assert [row["ended"] for row in rows] == [True, False]


def test_rain_comes_in_as_a_file_and_only_when_told_to(office):
    gauge = office.post("/gauges/", {"name": "Upper Fernby", "zone": "America/New_York", "source": "our own"}).json()
    again = office.post("/gauges/", {"name": "Upper Fernby"})
    assert again.status_code == 200
    assert again.json()["uid"] == gauge["uid"]
    data = "date,rain\n2026-05-01,0.5\n2026-05-02,lots\n2026-05-03,-1\n"

    def take(query: str, body: str):
        path = f"/api/v1/gauges/{gauge['uid']}/import/?{query}"
        return office.client.post(path, body, content_type="text/csv", headers=office.headers)

    assert take("", data).status_code == 422
    dry = take("unit=in", data).json()
    assert dry["applied"] is False
    assert {(report["row"], report["error"]) for report in dry["reports"]} >= {(3, True), (4, True)}
    assert RainRow.objects.count() == 0
    good = "date,rain\n2026-05-01,0.5\n2026-05-02,0\n"
    assert take("unit=in&apply=true", good).json()["new"] == 2
    assert take("unit=in&apply=true", good).json()["same"] == 2
    rows = office.get(f"/rain-rows/?gauge={gauge['uid']}&from_day=2026-05-01&until_day=2026-05-01").json()["results"]
    # 1 in is 25.4 mm exactly (international inch, 1959).
    assert [row["depth_mm"] for row in rows] == [pytest.approx(12.7)]


def test_an_agreement_is_made_changed_and_cancelled(cast, office, crew):
    rule = RuleFactory()
    body = {
        "property": str(cast.property.uid),
        "customer": str(cast.homeowner.uid),
        "price_cents": 48_000,
        "starts_on": "2026-01-01",
        "ends_on": "2026-12-31",
        "rules": [str(rule.uid)],
    }
    made = office.post("/service-agreements/", body)
    assert made.status_code == 201, made.content
    assert office.post("/service-agreements/", body).status_code == 409
    path = f"/service-agreements/{made.json()['uid']}/"
    changed = office.patch(path, {"price_cents": 50_000}, if_match=made["ETag"])
    assert changed.json()["price_cents"] == 50_000
    assert changed.json()["rules"] == [str(rule.uid)]
    assert office.post(path + "cancel/", {"on": str(TODAY), "why": "house sold"}).json()["ends_on"] == str(TODAY)
    assert crew.get(path).status_code == 403


def test_a_feed_address_is_shown_once_renewed_and_ended(cast, office):
    body = {"kind": "technician", "technician": str(cast.crew.uid), "label": "phone"}
    made = office.post("/feeds/", body)
    assert made.status_code == 201, made.content
    address = made.json()["address"]
    secret = address.rsplit("/", 1)[-1].removesuffix(".ics")
    assert made["Cache-Control"] == "no-store"
    assert secret not in office.get("/feeds/").content.decode()
    renewed = office.post(f"/feeds/{made.json()['uid']}/renew/", {})
    assert renewed.status_code == 201
    assert renewed.json()["address"] != address
    live = office.get("/feeds/?live=true").json()["results"]
    assert [row["uid"] for row in live] == [renewed.json()["uid"]]
    ended = office.post(f"/feeds/{renewed.json()['uid']}/revoke/", {})
    assert ended.json()["revoked_at"] is not None
    assert office.get("/feeds/?live=true").json()["results"] == []


@pytest.mark.parametrize("body", [{"kind": "technician"}, {"kind": "company", "technician": "me"}, {"kind": "all"}])
def test_a_feed_takes_who_it_is_for_and_nobody_else(cast, office, body):
    given = {name: str(cast.crew.uid) if value == "me" else value for name, value in body.items()}
    assert office.post("/feeds/", given).status_code == 422


def test_messages_are_read_by_state_and_never_with_their_text(cast, office):
    MessageFactory(state="failed", property_uid=cast.property.uid, last_error="mailbox full", text="gate code K-4711")
    MessageFactory()
    answer = office.get(f"/messages/?state=failed&property={cast.property.uid}")
    assert [row["last_error"] for row in answer.json()["results"]] == ["mailbox full"]
    assert "K-4711" not in answer.content.decode()


def test_a_message_nobody_knows_about_is_settled_once(office, crew):
    unknown = MessageFactory(state="unknown", closed_at=AT)
    path = f"/messages/{unknown.uid}/settle/"
    assert crew.post(path, {"how": "arrived"}).status_code == 403
    assert office.post(path, {"how": "perhaps"}).status_code == 422
    settled = office.post(path, {"how": "arrived"})
    assert (settled.status_code, settled.json()["state"]) == (200, "sent"), settled.content
    again = office.post(path, {"how": "again"})
    assert again.status_code == 409
    assert "nothing to settle" in again.json()["detail"]
    failed = MessageFactory(state="failed", closed_at=AT)
    assert office.post(f"/messages/{failed.uid}/settle/", {"how": "again"}).json()["state"] == "pending"
    late = MessageFactory(state="failed", closed_at=AT, not_after=AT - timedelta(days=1))
    assert office.post(f"/messages/{late.uid}/settle/", {"how": "again"}).json()["code"] == "too_late"
    assert office.post(f"/messages/{late.uid}/settle/", {"how": "told"}).json()["state"] == "skipped"


# Invented for tests; inches.
TABLE = {
    "name": "Fernby (invented)",
    "durations_min": [5, 60],
    "return_years": [2, 10],
    "depths_in": [[0.4, 0.6], [1.4, 2.1]],
    "source": "invented for tests",
}


def test_a_rain_table_is_kept_once_an_area_changed_by_version_and_taken_away(cast, office, crew):
    area = str(cast.property.area.uid)
    made = office.post("/rain-tables/", {**TABLE, "area": area})
    assert made.status_code == 201, made.content
    assert made.json()["depths_in"] == TABLE["depths_in"]
    assert office.post("/rain-tables/", {**TABLE, "area": area}).status_code == 409
    assert office.post("/rain-tables/", TABLE).json()["area"] is None
    path = f"/rain-tables/{made.json()['uid']}/"
    assert office.patch(path, {"name": "Fernby"}).status_code == 428
    changed = office.patch(path, {"depths_in": [[0.5, 0.7], [1.4, 2.1]]}, if_match=made["ETag"])
    assert changed.status_code == 200, changed.content
    assert (changed.json()["uid"], changed.json()["depths_in"][0]) == (made.json()["uid"], [0.5, 0.7])
    stale = office.patch(path, {"name": "Fernby"}, if_match=made["ETag"])
    assert stale.status_code == 412
    assert stale.json()["present"]["depths_in"][0] == [0.5, 0.7]
    assert crew.send("DELETE", path).status_code == 403
    assert office.send("DELETE", path).status_code == 204
    assert office.get(path).status_code == 404
    actions = [row["action"] for row in office.get(f"/history/?object={made.json()['uid']}").json()["results"]]
    assert sorted(actions) == ["change", "create", "remove"]


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"depths_in": [[0.4, 0.6]]}, "depths_in"),
        ({"depths_in": [[0.4, 0.6], [0.3, 2.1]]}, "depths_in"),
        ({"depths_in": [[0.4, "x"], [1.4, 2.1]]}, "depths_in.0.1"),
        ({"durations_min": [60, 5]}, "durations_min"),
        ({"durations_min": [5] * 41}, "durations_min"),
        ({"return_years": 10}, "return_years"),
        ({"source": ""}, "source"),
    ],
)
def test_a_rain_table_that_cannot_be_computed_with_is_refused_by_field(office, wrong, field):
    answer = office.post("/rain-tables/", {**TABLE, **wrong})
    assert answer.status_code == 422, answer.content
    assert [error["field"] for error in answer.json()["errors"]] == [field]


def test_a_call_is_ticked_off(cast, office):
    call = CallToMakeFactory(property=cast.property)
    answer = office.post(f"/calls-to-make/{call.uid}/told/", {"note": "will ring back"})
    assert answer.json()["told_at"] is not None
    assert office.get("/calls-to-make/?open=true").json()["results"] == []
    assert len(office.get("/calls-to-make/?open=false").json()["results"]) == 1


def test_due_windows_are_filtered_in_the_database(cast, office):
    own = DueWindowFactory(component__system=SystemFactory(property=cast.property))
    DueWindowFactory(task="look")
    for query in (f"property={cast.property.uid}", "task=clean", f"component={own.component.uid}"):
        rows = office.get(f"/due-windows/?{query}").json()["results"]
        assert [row["component"] for row in rows] == [str(own.component.uid)], query
    assert office.get("/due-windows/?best_until=2020-01-01").json()["results"] == []
    assert len(office.get("/due-windows/?planned=false").json()["results"]) == 2
    row = office.get(f"/due-windows/?property={cast.property.uid}").json()["results"][0]
    assert {"earliest_on", "best_on", "latest_on", "reason", "inputs", "computed_at"} <= row.keys()
