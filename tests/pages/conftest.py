"""Everybody at a browser: the named cast signed in, at the instant at which made things happen."""

from collections.abc import Callable
from datetime import time, timedelta

import pytest
from django.core.cache import cache
from django.test import Client

from core import clock, tokens
from core.history import remove_guard
from core.models import Token
from jobs.models import Component, Customer
from maintenance.models import Visit
from tests.factories import (
    AT,
    TODAY,
    Cast,
    CloseoutFactory,
    ComponentFactory,
    DueWindowFactory,
    HazardFactory,
    OfferedDayFactory,
    PhotoFactory,
    ReadingFactory,
    SystemFactory,
    VisitFactory,
    VisitTaskFactory,
    VisitTechnicianFactory,
    make_cast,
)


@pytest.fixture(autouse=True)
def at_that_time(monkeypatch):
    """Pages read the clock once: it stands at AT; and nobody has asked for anything yet."""
    monkeypatch.setattr(clock, "now", lambda: AT)
    cache.clear()


@pytest.fixture(autouse=True)
def history_can_be_emptied(request):
    """Tests that really commit empty the database afterwards, which the guard of the history would refuse."""
    marker = request.node.get_closest_marker("django_db")
    if marker is not None and marker.kwargs.get("transaction"):
        request.getfixturevalue("transactional_db")
        remove_guard()


@pytest.fixture
def cast(db) -> Cast:
    return make_cast()


def home_link(customer: Customer) -> str:
    """The secret of a fresh link."""
    from core.act import by_system

    return tokens.issue(act=by_system("test", at=AT), kind=Token.Kind.LINK, label="t", holder_uid=customer.uid)[1]


def signed_in(person) -> Client:
    """A browser of someone of the company, of a homeowner by their link, or of nobody (None)."""
    client = Client()
    if isinstance(person, Customer):
        assert client.post(f"/home/{home_link(person)}/").status_code == 302
    elif person is not None:
        client.force_login(person, "django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture
def browser_of(cast) -> Callable[[str], Client]:
    """A browser by the name of a person of the cast; "nobody" is not signed in."""
    return lambda who: signed_in(None if who == "nobody" else getattr(cast, who))


class Yard:
    """The homeowner's property with one of everything a page shows."""

    def __init__(self, cast: Cast) -> None:
        self.system = SystemFactory(property=cast.property, name="Patio")
        self.basin: Component = ComponentFactory(system=self.system, tag="CB-1", name="by the patio door")
        self.outfall: Component = ComponentFactory(system=self.system, kind="outfall", tag="OF-1")
        self.channel: Component = ComponentFactory(system=self.system, kind="channel_run", tag="CH-1")
        ReadingFactory(component=self.basin, code="grade", value=None, unit="", canonical=None, grade="three_quarters")
        self.window = DueWindowFactory(component=self.basin, words="Its limit is half full.")
        self.own = DueWindowFactory(component=self.outfall, task="clear_outfall", who="owner", best_on=TODAY)
        HazardFactory(property=cast.property)
        self.agreed: Visit = self._visit(
            cast, state="agreed", local_date=TODAY, local_start=time(9), span_minutes=60, sequence=2
        )
        self.offered: Visit = self._visit(cast, state="offered", answer_by=TODAY + timedelta(days=5), sequence=1)
        self.days = [OfferedDayFactory(visit=self.offered, local_date=TODAY + timedelta(days=n)) for n in (9, 11)]
        self.done: Visit = self._visit(cast, state="done", local_date=TODAY - timedelta(days=90), sequence=3)
        self.closeout = CloseoutFactory(
            visit=self.done,
            technician=cast.crew,
            summary={"lines": ["Cleaning, the box (CB-1): done; we found it about half full."]},
        )
        self.photo = PhotoFactory(
            property=cast.property, closeout_uid=self.closeout.uid, taken_at=AT - timedelta(days=90)
        )

    def _visit(self, cast: Cast, **more) -> Visit:
        made = VisitFactory(property=cast.property, **more)
        VisitTaskFactory(visit=made, component=self.basin, words="clean twice a year")
        VisitTechnicianFactory(visit=made, user=cast.crew)
        return made


@pytest.fixture
def yard(cast) -> Yard:
    return Yard(cast)
