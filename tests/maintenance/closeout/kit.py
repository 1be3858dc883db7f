"""A yard with a pumped basin, an agreed visit with tasks, and closeouts to send."""

import hashlib
import json
import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from core.act import Act, by_user
from core.models import User
from jobs.models import Component, Property
from maintenance import closeout
from maintenance.models import Visit
from tests.factories import (
    AT,
    TODAY,
    ComponentFactory,
    OfficeFactory,
    PropertyFactory,
    SystemFactory,
    UserFactory,
    VisitFactory,
    VisitTaskFactory,
    VisitTechnicianFactory,
)

LEFT = AT - timedelta(minutes=10)


@dataclass
class Scene:
    """A property with a catch basin and a pump in a sump, and a visit agreed for today."""

    property: Property
    basin: Component
    sump: Component
    pump: Component
    visit: Visit
    crew: User
    second: User
    stranger: User
    office: User

    def act(self, who: User | None = None, *, at: datetime = AT, via: Any = "phone") -> Act:
        return by_user(who or self.crew, via=via, at=at)

    def body(self, **changes: Any) -> dict[str, Any]:
        """A routine closeout: basin cleaned, 3 in of 6 found."""
        said = {
            "version": 1,
            "uid": str(uuid.uuid4()),
            "visit": str(self.visit.uid),
            "arrived_at": (LEFT - timedelta(minutes=40)).isoformat(),
            "left_at": LEFT.isoformat(),
            "tasks": [{"component": str(self.basin.uid), "task": "clean", "outcome": "done"}],
            "readings": [
                {"component": str(self.basin.uid), "code": "silt_depth_in", "value": 3.0, "unit": "in"},
            ],
            "lids_fastened": True,
        }
        return {key: value for key, value in {**said, **changes}.items() if value is not ...}


def make_scene() -> Scene:
    prop = PropertyFactory()
    system = SystemFactory(property=prop)
    basin = ComponentFactory(
        system=system,
        kind="catch_basin",
        tag="CB-1",
        dimensions={"invert_above_bottom_in": 6.0},
        certainty={"invert_above_bottom_in": "measured"},
    )
    sump = ComponentFactory(system=system, kind="sump_basin", tag="SB-1", dimensions={})
    pump = ComponentFactory(system=system, kind="pump", tag="PU-1", sits_in=sump, dimensions={})
    crew = UserFactory()
    visit = VisitFactory(property=prop, state="agreed", local_date=TODAY, agreed_at=AT - timedelta(days=9))
    VisitTaskFactory(visit=visit, component=basin, task="clean")
    VisitTaskFactory(visit=visit, component=pump, task="test_pump")
    VisitTechnicianFactory(visit=visit, user=crew)
    return Scene(prop, basin, sump, pump, visit, crew, UserFactory(), UserFactory(), OfficeFactory())


def send(said: dict[str, Any] | bytes, act: Act, **more: Any) -> closeout.Closed:
    """As a door would: bytes, digest, id of the address."""
    body = said if isinstance(said, bytes) else json.dumps(said).encode()
    uid = more.pop("uid", None) or uuid.UUID(json.loads(body)["uid"])
    return closeout.close(act=act, uid=uid, body=body, digest=hashlib.sha256(body).hexdigest(), **more)
