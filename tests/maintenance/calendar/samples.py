"""Invented visits and feeds for the calendar tests: nobody lives at these addresses."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from uuid import NAMESPACE_URL, uuid5

from maintenance.calendar.event import CalendarEvent, EventStatus, event_bytes
from maintenance.calendar.frame import calendar_bytes

EASTERN, LORD_HOWE, LISBON = "America/New_York", "Australia/Lord_Howe", "Europe/Lisbon"
NOW = datetime(2026, 3, 6, 12, tzinfo=UTC)
CHANGED = datetime(2026, 3, 5, 8, tzinfo=UTC)
BASE = "https://calendar.example.org"
LONG = (
    "Entrada por el jardín; cuidado con el perro, avise al llegar.\nÚltima medición: 3½ in de lodo.\n"
    + "Revisión № 7 – rejilla limpia, señal en la tapa ✓ 🛠️; " * 14
)


def uid(number: int) -> str:
    return str(uuid5(NAMESPACE_URL, f"{BASE}/visit/{number}"))


def make_event(number: int = 1, **changes: object) -> CalendarEvent:
    """A timed, confirmed visit on 9 March 2026, 08:00 to 09:30 Eastern, with any field changed."""
    event = CalendarEvent(
        uid=uid(number),
        revision=1,
        sequence=0,
        last_modified=CHANGED,
        created=datetime(2026, 1, 2, 9, tzinfo=UTC),
        local_date=date(2026, 3, 9),
        local_start=time(8),
        local_end=time(9, 30),
        tzid=EASTERN,
        summary="Clean CH-1 and SB-2",
        url=f"{BASE}/visits/{number}",
        description="Two parts.",
        location="1 Example Street, Exampletown",
        categories=("Visit",),
    )
    return replace(event, **changes)  # type: ignore[arg-type]


def good_events() -> list[CalendarEvent]:
    """Every shape a feed has: long text, alarm, all day, called off, both changes of the clock, several zones."""
    return [
        make_event(1, description=LONG, alarm_minutes=60, geo=(40.123456, -75.0), categories=("Visit", "Silt, sand")),
        make_event(2, local_date=date(2026, 3, 8), local_start=time(1), local_end=time(4), sequence=1),
        make_event(3, local_date=date(2026, 4, 13), local_start=None, local_end=None, status=EventStatus.TENTATIVE),
        make_event(4, local_date=date(2026, 4, 20), status=EventStatus.CANCELLED, sequence=3, alarm_minutes=60),
        make_event(5, local_date=date(2026, 11, 1), local_start=time(1, 15), local_end=time(1, 45)),
        make_event(6, local_date=date(2026, 10, 4), local_start=time(1), local_end=time(3), tzid=LORD_HOWE),
        make_event(7, local_date=date(2027, 3, 28), local_start=time(0, 30), local_end=time(1, 30), tzid=LISBON),
        make_event(8, summary="Path C:\\Notes; two, three", description="C:\\Notes\\new\nline"),
    ]


def make_feed(events: list[CalendarEvent] | None = None, tzids: tuple[str, ...] = (), **changes: object) -> bytes:
    """The feed of ``events`` (the good ones if None)."""
    shown = good_events() if events is None else events
    settings: dict[str, object] = {
        "name": "Visits – Técnico 7",
        "url": f"{BASE}/crew",
        "source": f"{BASE}/feeds/sample.ics",
        "refresh": timedelta(hours=1),
        "colour": "steelblue",
        "last_modified": CHANGED,
        **changes,
    }
    zones = {event.tzid for event in shown} | set(tzids)
    return calendar_bytes(fragments=[event_bytes(event) for event in shown], tzids=zones, **settings)  # type: ignore[arg-type]
