"""A small invented company as the browser tests meet it: real services where they matter, so that words are real."""

import io
from dataclasses import dataclass
from datetime import time, timedelta

from PIL import Image, ImageDraw

from core import company
from core.act import by_system
from jobs.models import System
from jobs.photos import add_photo
from maintenance import refresh, rules
from maintenance.models import Visit
from tests.factories import (
    AT,
    TODAY,
    Cast,
    CloseoutFactory,
    HazardFactory,
    OfferedDayFactory,
    PropertyAccessFactory,
    PropertyFactory,
    ReadingFactory,
    TaskDoneFactory,
    VisitFactory,
    VisitTaskFactory,
    VisitTechnicianFactory,
    channel_to_sump,
    make_cast,
    roof_to_dry_well,
)

WANTED = "Wanted every 6 months; last done 20 November 2025."
TASKS = (("roof", "catch_basin", "clean"), ("patio", "channel_run", "clean"), ("patio", "pump", "test_pump"))


@dataclass(frozen=True)
class MadeCompany:
    """The cast, the homeowner's systems, and visits: agreed for today, offered, done long ago, two more stops."""

    cast: Cast
    patio: System
    roof: System
    agreed: Visit
    offered: Visit
    done: Visit


def make_company() -> MadeCompany:
    """Everything, at the instant AT."""
    act = by_system("test", at=AT)
    company.change(
        act=act,
        name="Example Drains",
        phone="555-0100",
        postal_address="1 Made-up Street\nUpper Fernby",
        yard_lat=41.01,
        yard_lon=-74.01,
    )
    rules.install_library(act=act)
    cast = make_cast()
    prop = cast.property
    prop.gate_code, prop.access_note, prop.corner = "4711#", "Side gate, left of the garage.", "north-east corner"
    prop.lat, prop.lon = 41.0, -74.0
    prop.save()
    HazardFactory(property=prop, note="to the pool light")
    HazardFactory(property=prop, kind="dog", note="friendly, gets out", x_ft=None, y_ft=None, depth_in=None)
    patio, roof = channel_to_sump(prop), roof_to_dry_well(prop)
    _found(patio, roof)
    agreed = _visit(
        cast, patio, roof, state="agreed", local_date=TODAY, local_start=time(9), span_minutes=60, sequence=2
    )
    offered = _visit(cast, patio, roof, state="offered", answer_by=TODAY + timedelta(days=5), sequence=1)
    for ahead in (9, 11, 15):
        OfferedDayFactory(
            visit=offered, local_date=TODAY + timedelta(days=ahead), local_start=time(8), span_minutes=120
        )
    done = _visit(cast, patio, roof, state="done", local_date=TODAY - timedelta(days=60), sequence=3)
    _closed(cast, done)
    _more_stops(cast)
    refresh.refresh_property(act=act, property_id=prop.pk)
    return MadeCompany(cast, patio, roof, agreed, offered, done)


def picture(colour: str, words: str) -> bytes:
    """A drawn photo of 800 x 600 pixels."""
    image = Image.new("RGB", (800, 600), colour)
    draw = ImageDraw.Draw(image)
    draw.rectangle((200, 150, 600, 450), fill="#2c3638", outline="#94948a", width=12)
    draw.text((220, 470), words, fill="black")
    out = io.BytesIO()
    image.save(out, "JPEG", quality=80)
    return out.getvalue()


def _found(patio: System, roof: System) -> None:
    last = AT - timedelta(days=60)
    part = {c.kind: c for c in [*patio.components.all(), *roof.components.all()]}
    ReadingFactory(component=part["catch_basin"], value=3.5, measured_at=AT - timedelta(days=20))
    ReadingFactory(
        component=part["channel_run"],
        code="grade",
        value=None,
        unit="",
        canonical=None,
        grade="quarter",
        measured_at=last,
    )
    TaskDoneFactory(component=part["sump_basin"], done_on=last.date(), recorded_at=last)
    TaskDoneFactory(component=part["pump"], task="test_pump", done_on=last.date(), recorded_at=last, left_fill=None)


def _visit(cast: Cast, patio: System, roof: System, **more) -> Visit:
    made = VisitFactory(property=cast.property, minutes=75, **more)
    for system, kind, task in (
        (roof, "catch_basin", "clean"),
        (patio, "channel_run", "clean"),
        (patio, "pump", "test_pump"),
    ):
        part = system.components.get(kind=kind)
        outcome = "done" if made.state == "done" else ""
        VisitTaskFactory(
            visit=made,
            component=part,
            task=task,
            words="Wanted every 6 months; last done 20 November 2025.",
            outcome=outcome,
        )
    VisitTechnicianFactory(visit=made, user=cast.crew)
    return made


def _closed(cast: Cast, visit: Visit) -> None:
    lines = [
        "Cleaning, the box under a grate that catches silt and leaves (CB-1): done; we found it about half full.",
        "A pump-down test, the pump (PU-1): done.",
        "Lids and grates are back in place and fastened.",
    ]
    closeout = CloseoutFactory(
        visit=visit, technician=cast.crew, summary={"lines": lines}, left_at=AT - timedelta(days=60)
    )
    for moment, colour in (("before", "#b4b3a8"), ("after", "#c9c6b8")):
        add_photo(
            act=cast.act("crew"),
            property=visit.property,
            data=picture(colour, f"CB-1 {moment}, invented"),
            moment=moment,
            caption=f"The box at the patio, {moment} cleaning",
            taken_at=AT - timedelta(days=60),
            closeout_uid=closeout.uid,
        )


def _more_stops(cast: Cast) -> None:
    for place, (address, lat) in enumerate((("12 Plover Bend", 41.03), ("40 Dunlin Reach", 41.06)), start=1):
        prop = PropertyFactory(address=address, lat=lat, lon=-74.02)
        PropertyAccessFactory(property=prop, user=cast.crew)
        visit = VisitFactory(property=prop, state="agreed", local_date=TODAY, place_in_day=place, minutes=45)
        VisitTechnicianFactory(visit=visit, user=cast.crew)
        for part in roof_to_dry_well(prop, number=place).components.filter(kind="catch_basin"):
            VisitTaskFactory(visit=visit, component=part, task="clean", words="")
