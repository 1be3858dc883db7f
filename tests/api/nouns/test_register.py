"""The register over the API, from an address to a pumped system in the ground, and what happens to it."""

from itertools import pairwise

import pytest

from jobs.models import Component
from tests.factories import channel_to_sump, half_known

pytestmark = pytest.mark.django_db


def made(caller, path: str, **body) -> dict:
    answer = caller.post(path, body)
    assert answer.status_code == 201, answer.content
    return answer.json()


def test_a_yard_is_recorded_from_nothing(office):
    """Address, owner, system, basin, pump in it, line, outfall, surface, cable: and the checks find nothing amiss."""
    area = made(office, "/areas/", name="Hill side")
    home = made(office, "/properties/", address="3 Culvert Close", area=area["uid"], gate_code="4711")
    owner = made(office, "/customers/", name="Nell Osier", email="nell@home.invalid")
    role = made(
        office,
        "/roles/",
        property=home["uid"],
        customer=owner["uid"],
        role="owner",
        from_date="2026-01-01",
        approves_cost=True,
    )
    system = made(office, "/systems/", property=home["uid"], name="Patio", target_return_years=25)

    def part(kind: str, tag: str, **more) -> str:
        return made(office, "/components/", property=home["uid"], system=system["uid"], kind=kind, tag=tag, **more)[
            "uid"
        ]

    basin = part("sump_basin", "SB-1", dimensions={"kind": "sump_basin", "inside_diameter_in": 18, "depth_in": 30})
    parts = [
        part("channel_run", "CH-1", dimensions={"length_ft": 24.0}, certainty={"length_ft": "measured"}),
        basin,
        part("pump", "PU-1", sits_in=basin),
        part("check_valve", "CV-1"),
        part("discharge_line", "DL-1"),
        part("outfall", "OF-1"),
    ]
    for first, second in pairwise(parts):
        made(office, "/connections/", from_component=first, to_component=second)
    made(office, "/drainage-areas/", component=parts[0], surface="paved", area_ft2=600, runoff_c=0.9)
    made(office, "/hazards/", property=home["uid"], kind="cable", depth_in=5)
    found = office.get(f"/systems/{system['uid']}/problems/").json()
    assert [item for item in found if item["severity"] == "error"] == []
    shown = office.get(f"/properties/{home['uid']}/").json()
    assert shown["has_gate_code"] is True
    assert "4711" not in str(shown)
    assert (
        office.get(shown["links"]["components"].removeprefix("/api/v1")).json()["results"][0]["property"] == home["uid"]
    )
    assert role["gets_messages"] is True
    assert role["until_date"] is None


def test_every_link_of_a_property_leads_to_a_list_of_its_own(cast, office):
    channel_to_sump(cast.property)
    half_known(cast.strangers_property)
    for name, address in office.get(f"/properties/{cast.property.uid}/").json()["links"].items():
        rows = office.get(address).json()["results"]
        assert {row["property"] for row in rows} <= {str(cast.property.uid)}, name


def test_kind_and_tag_are_enough_for_an_old_part(cast, office):
    part = made(office, "/components/", property=str(cast.property.uid), kind="french_drain", tag="FD-1")
    assert part["dimensions"] == {"kind": "french_drain"}
    assert part["installed_on"] is None


def test_a_part_is_shown_with_its_dimensions_and_what_is_sure(cast, office):
    part = made(
        office,
        "/components/",
        property=str(cast.property.uid),
        kind="catch_basin",
        tag="CB-1",
        dimensions={"kind": "catch_basin", "depth_in": 18, "invert_above_bottom_in": 6},
        certainty={"invert_above_bottom_in": "measured"},
    )
    assert part["dimensions"] == {"kind": "catch_basin", "depth_in": 18.0, "invert_above_bottom_in": 6.0}
    assert part["certainty"] == {"depth_in": "assumed", "invert_above_bottom_in": "measured"}


def test_what_is_read_may_be_sent_back(cast, office):
    """Dimensions as shown, their kind among them, are taken as they are."""
    channel_to_sump(cast.property)
    row = office.get("/components/?kind=sump_basin").json()["results"][0]
    answer = office.patch(f"/components/{row['uid']}/", {"dimensions": row["dimensions"]}, if_match='"1"')
    assert answer.status_code == 200
    assert answer.json() == row


def test_a_tag_is_taken_once_at_a_property(cast, office):
    body = {"property": str(cast.property.uid), "kind": "pump", "tag": "PU-1"}
    assert office.post("/components/", body).status_code == 201
    answer = office.post("/components/", {**body, "tag": "pu-1"})
    assert answer.status_code == 409
    assert answer.json()["code"] == "tag_taken"


def test_a_part_is_replaced_and_points_to_its_successor(cast, office):
    channel_to_sump(cast.property)
    pump = office.get("/components/?kind=pump").json()["results"][0]
    answer = office.post(f"/components/{pump['uid']}/replace/", {"on": "2026-05-01", "reason": "seized"})
    assert answer.status_code == 201, answer.content
    new, old = answer.json(), office.get(f"/components/{pump['uid']}/").json()
    assert (new["tag"], new["sits_in"]) == (pump["tag"], pump["sits_in"])
    assert old["successor"] == new["uid"]
    assert old["retired_on"] == "2026-05-01"
    assert [row["uid"] for row in office.get("/components/?kind=pump&retired=false").json()["results"]] == [new["uid"]]
    again = office.post(f"/components/{pump['uid']}/replace/", {"on": "2026-05-02", "reason": "seized"})
    assert again.status_code == 409
    assert len(office.get(f"/components/{pump['uid']}/versions/").json()) == 2


def test_a_part_is_retired_with_nothing_in_its_place(cast, office):
    channel_to_sump(cast.property)
    valve = office.get("/components/?kind=check_valve").json()["results"][0]["uid"]
    body = {"on": "2026-05-01", "reason": "taken out"}
    assert office.post(f"/components/{valve}/retire/", body).json()["retired_on"] == "2026-05-01"
    assert not office.get(f"/connections/?from_component={valve}").json()["results"]


def test_a_connection_and_a_surface_are_taken_back_and_stay_in_the_history(cast, office):
    channel_to_sump(cast.property)
    for noun in ("connections", "drainage-areas"):
        uid = office.get(f"/{noun}/").json()["results"][0]["uid"]
        assert office.send("DELETE", f"/{noun}/{uid}/").status_code == 204
        assert office.get(f"/{noun}/{uid}/").status_code == 404
        entry = office.get(f"/history/?object={uid}").json()["results"][0]
        assert entry["action"] == "remove"
        assert entry["who_name"] == cast.office.display_name


def test_a_system_begins_from_a_starting_layout(cast, office):
    layout = office.get("/starting-layouts/").json()[0]
    numbers = {ask["name"]: ask["usual"] for ask in layout["asks"]}
    body = {
        "property": str(cast.property.uid),
        "layout": layout["code"],
        "numbers": numbers,
        "system_name": "Patio",
        "uid": "6f1d2f0a-2c53-4a44-9b44-0d1b6b2b7a10",
    }
    first, again = office.post("/systems/from-layout/", body), office.post("/systems/from-layout/", body)
    assert (first.status_code, again.status_code) == (201, 200), again.content
    parts = Component.objects.filter(system__uid=body["uid"]).count()
    assert parts > 3
    assert len(office.get(f"/components/?system={body['uid']}").json()["results"]) == parts


def test_a_job_moves_one_stage_at_a_time(cast, office, crew):
    job = made(office, "/jobs/", property=str(cast.property.uid), kind="install", title="Patio", price_cents=950_000)
    move = f"/jobs/{job['uid']}/move/"
    assert office.post(move, {"stage": "digging"}).status_code == 409
    for stage in ("measured", "priced", "accepted"):
        assert office.post(move, {"stage": stage}).json()["stage"] == stage
    no_number = office.post(move, {"stage": "digging"})
    assert no_number.status_code == 422
    assert no_number.json()["errors"][0]["field"] == "locate_number"
    shown = office.post(move, {"stage": "digging", "note": "hand-dug, no machine"}).json()
    assert [step["stage"] for step in shown["steps"]] == ["asked", "measured", "priced", "accepted", "digging"]
    assert shown["price_cents"] == 950_000
    assert crew.get(f"/jobs/{job['uid']}/").json()["price_cents"] is None


def test_a_hazard_is_added_by_the_crew_and_ended_by_the_office(cast, office, crew):
    hazard = crew.post("/hazards/", {"property": str(cast.property.uid), "kind": "loose_lid", "note": "at the gate"})
    assert hazard.status_code == 201
    path = f"/hazards/{hazard.json()['uid']}/"
    assert crew.post(path + "gone/", {}).status_code == 403
    assert office.post(path + "gone/", {"note": "bolted down"}).json()["gone_at"] is not None
    assert not office.get(f"/hazards/?property={cast.property.uid}&gone=false").json()["results"]


def test_a_house_sold_ends_the_role(cast, office):
    answer = office.post(f"/roles/{cast.role.uid}/end/", {"until_date": "2026-05-04"})
    assert answer.json()["until_date"] == "2026-05-04"
    held = office.get(f"/roles/?property={cast.property.uid}&in_force_on=2026-05-04").json()["results"]
    assert held == []
    assert len(office.get(f"/roles/?property={cast.property.uid}&in_force_on=2026-05-03").json()["results"]) == 1
