"""The main job, from a register file and a rain record to dates, visits, mail and a calendar. Read this one first.

A register of 200 rows made for the test and the 1,461 real days of rain carried by vega_datasets (daily summaries of
2012 to 2015, US Government data) go in by the commands. A technician closes visits over the API: twice the expected
silt brings the next date forward, half of it puts it off, and nothing moves anywhere else.
"""

import io
import json
import uuid
from datetime import UTC, date, datetime, time, timedelta
from email import message_from_bytes, policy
from hashlib import sha256
from pathlib import Path

import icalendar
import pytest
import recurring_ical_events
import vega_datasets
import vobject
from django.core import mail
from django.core.management import call_command
from django.test import Client

from core import company, tokens
from core.act import by_system, by_user
from core.models import Message, Token
from jobs.models import Component, Property, PropertyRole
from maintenance import feeds, occasions_due, propose, reminders, rules, visits
from maintenance.models import DueWindow, Visit, VisitTask
from tests.factories import OfficeFactory, UserFactory
from tests.jobs.exchange.made_register import write_register

pytestmark = pytest.mark.django_db

BEGIN = datetime(2015, 4, 13, 14, 0, tzinfo=UTC)
THEN = datetime(2016, 1, 4, 14, 0, tzinfo=UTC)
TWICE, HALF = "4 Moss Gate", "8 Cistern Row"
RAIN = Path(vega_datasets.__file__).parent / "_data" / "seattle-weather.csv"


class Company:
    """The people of the test, their clock, and what they do."""

    def __init__(self, monkeypatch) -> None:
        self._monkeypatch = monkeypatch
        self.set_clock(BEGIN)
        self.office, self.technician = OfficeFactory(), UserFactory()
        _, self.token = tokens.issue(
            act=by_system("test", at=BEGIN), kind=Token.Kind.API, label="phone", user=self.technician, days=400
        )
        rules.install_library(act=by_system("test", at=BEGIN))
        company.change(act=by_system("test", at=BEGIN), name="Invented Drains", zone="America/New_York")

    def set_clock(self, at: datetime) -> None:
        self.at = at
        self._monkeypatch.setattr("core.clock.now", lambda: self.at)

    def command(self, name: str, *args, **options) -> str:
        out = io.StringIO()
        call_command(name, *args, stdout=out, **options)
        return out.getvalue()

    def visit(self, prop: Property, part: Component, day: date) -> Visit:
        act = by_user(self.office, via="page", at=self.at)
        visit = visits.propose(act=act, property=prop, tasks=[{"component": part, "task": "clean", "minutes": 30}])
        return visits.agree(
            act=act, visit=visit, local_date=day, local_start=time(9), span_minutes=120, technicians=[self.technician]
        )

    def close(self, visit: Visit, part: Component, depth_in: float | None, outcome: str, uid: uuid.UUID | None = None):
        """Send a closeout as a phone does; returns the answer and the id it was sent under."""
        uid = uid or uuid.uuid4()
        body = {
            "version": 1,
            "uid": str(uid),
            "visit": str(visit.uid),
            "arrived_at": (self.at - timedelta(minutes=40)).isoformat(),
            "left_at": (self.at - timedelta(minutes=5)).isoformat(),
            "lids_fastened": True,
            "tasks": [{"component": str(part.uid), "task": "clean", "outcome": outcome}],
            "readings": [{"component": str(part.uid), "code": "silt_depth_in", "value": depth_in, "unit": "in"}]
            if depth_in is not None
            else [],
        }
        raw = json.dumps(body).encode()
        answer = Client().put(
            f"/api/v1/closeouts/{uid}/",
            data=raw,
            content_type="application/json",
            headers={"Authorization": f"Bearer {self.token}", "X-Sha256": sha256(raw).hexdigest()},
        )
        return answer, uid


@pytest.fixture
def firm(monkeypatch, tmp_path) -> Company:
    """A company with the register imported; two of its channels were cleaned four times, last three weeks ago."""
    made = Company(monkeypatch)
    file = tmp_path / "register.csv"
    write_register(file, 200, newest=date(2014, 12, 1))
    assert "nothing" in made.command("import_register", str(file)).lower()
    assert Property.objects.count() == 0
    made.command("import_register", str(file), apply=True)
    # Four cleanings; the second and third found about a tenth of the depth.
    for days, share in ((0, None), (91, 0.09), (182, 0.09), (245, None)):
        made.set_clock(BEGIN + timedelta(days=days))
        for address in (TWICE, HALF):
            prop, part = place(address)
            visit = made.visit(prop, part, made.at.date())
            depth = None if share is None else share * part.dimensions["inside_depth_in"]
            answer, _ = made.close(visit, part, depth, "done")
            assert answer.status_code == 201, answer.content
    made.set_clock(THEN)
    made.command("import_rain", str(RAIN), gauge="Yard", unit="mm", apply=True)
    made.command("refresh")
    mail.outbox.clear()
    Message.objects.all().delete()
    return made


def place(address: str) -> tuple[Property, Component]:
    prop = Property.objects.get(address=address)
    return prop, prop.components.get(kind="channel_run")


def window(part: Component) -> DueWindow:
    return DueWindow.objects.get(component=part, task="clean", who="crew")


def elsewhere(*ids: int) -> str:
    rows = DueWindow.objects.exclude(property__in=ids).order_by("id").values()
    return json.dumps(list(rows), default=str)


def reading_named(part: Component, depth_in: float) -> str:
    share = round(100 * depth_in / part.dimensions["inside_depth_in"])
    return f"Last found {share} % full on 6 January 2016"


def expected_in(part: Component, at: datetime) -> float:
    """Median silt the stored window expects on that day [in]."""
    from maintenance.read.forecast_inputs import load, load_common
    from maintenance.read.rating_inputs import silt_today

    inputs = load(load_common(as_of=at.date(), zone="America/New_York"), [part.property_id])
    return silt_today(inputs)[0.5][part.pk] * part.dimensions["inside_depth_in"]


def test_a_register_goes_in_and_dates_visits_mail_and_calendar_come_out(firm):
    assert Component.objects.count() == 200
    due = json.loads(firm.command("due", json=True, days=60))
    assert due["windows"]
    assert due["failed"] == []
    as_of = firm.command("due", as_of=date(2015, 12, 1), json=True, days=60)

    twice, channel = place(TWICE)
    half, other_channel = place(HALF)
    before = {part.pk: window(part).latest_on for part in (channel, other_channel)}
    rest = elsewhere(twice.pk, half.pk)

    # A homeowner subscribes before anything happens.
    owner = PropertyRole.objects.get(property=twice, role="owner").customer
    _, secret = feeds.issue_feed(act=by_system("test", at=THEN), kind="homeowner", customer=owner)
    address = feeds.address_of(secret).removeprefix("http://127.0.0.1:8000")
    empty = Client().get(address)
    assert visit_times(empty.content) == []

    visit = firm.visit(twice, channel, date(2016, 1, 6))
    calendar = Client().get(address)
    assert calendar["ETag"] != empty["ETag"]
    assert visit_times(calendar.content) == [datetime(2016, 1, 6, 14, 0, tzinfo=UTC)]

    # The day before, at nine, one reminder.
    reminder_at = datetime(2016, 1, 5, 14, 0, tzinfo=UTC)
    firm.set_clock(reminder_at)
    for _ in range(2):
        occasions_due.scan(act=by_system("test", at=reminder_at))
        reminders.send_due(act=by_system("test", at=reminder_at), limit=200)
    told = [m for m in mail.outbox if m.to == [owner.email] and "Reminder" in m.subject]
    assert len(told) == 1
    assert "tomorrow" in told[0].body

    # On the day: twice the expected silt here, half of it there.
    firm.set_clock(datetime(2016, 1, 6, 15, 0, tzinfo=UTC))
    mail.outbox.clear()
    depth = round(2 * expected_in(channel, firm.at), 2)
    answer, uid = firm.close(visit, channel, depth, "found_fine")
    assert answer.status_code == 201, answer.content
    again, _ = firm.close(visit, channel, depth, "found_fine", uid)
    assert again.status_code == 200
    assert window(channel).latest_on < before[channel.pk]
    assert reading_named(channel, depth) in window(channel).words

    other = firm.visit(half, other_channel, date(2016, 1, 6))
    shallow = round(0.5 * expected_in(other_channel, firm.at), 2)
    answer, _ = firm.close(other, other_channel, shallow, "found_fine")
    assert answer.status_code == 201, answer.content
    assert window(other_channel).latest_on > before[other_channel.pk]
    assert reading_named(other_channel, shallow) in window(other_channel).words

    # Nothing moved anywhere else, and the earlier day still computes to the byte.
    assert elsewhere(twice.pk, half.pk) == rest
    assert firm.command("due", as_of=date(2015, 12, 1), json=True, days=60) == as_of

    # The homeowner is told once what was found and done, and a next visit is proposed.
    for _ in range(2):
        reminders.send_due(act=by_system("test", at=firm.at), limit=200)
    done = [m for m in mail.outbox if m.to == [owner.email] and "found and did" in m.subject]
    assert len(done) == 1
    parsed = message_from_bytes(done[0].message().as_bytes(), policy=policy.default)
    assert {part.get_content_type() for part in parsed.walk()} >= {"text/plain", "text/html"}
    propose.propose_visits(act=by_system("test", at=firm.at))
    proposed = VisitTask.objects.filter(component=channel, task="clean", visit__state=Visit.State.PROPOSED)
    assert proposed.count() == 1
    assert proposed.get().visit.no_later_than <= window(channel).latest_on


def is_visit(event) -> bool:
    return isinstance(event.get("DTSTART").dt, datetime)


def visit_times(feed: bytes) -> list[datetime]:
    """Starts of timed events by two independent readers, which must agree."""
    calendar = icalendar.Calendar.from_ical(feed)
    occurrences = recurring_ical_events.of(calendar).between(date(2016, 1, 1), date(2016, 3, 1))
    first = sorted(e["DTSTART"].dt.astimezone(UTC) for e in occurrences if is_visit(e))
    second = sorted(
        event.dtstart.value.astimezone(UTC)
        for event in vobject.readOne(feed.decode()).contents.get("vevent", ())
        if isinstance(event.dtstart.value, datetime) and event.dtstart.value.year == 2016
    )
    assert first == second
    return first
