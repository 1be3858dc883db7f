"""The named cast at the API, at the instant at which made things happen."""

import pytest
from django.core.cache import cache

from core import clock
from tests.api.routes.people import Caller, caller_of
from tests.factories import AT, Cast, make_cast


@pytest.fixture(autouse=True)
def at_that_time(monkeypatch):
    """The API reads the clock once a request: it stands at AT; and nobody has asked for anything yet."""
    monkeypatch.setattr(clock, "now", lambda: AT)
    cache.clear()


@pytest.fixture
def cast(db) -> Cast:
    return make_cast()


@pytest.fixture
def office(cast) -> Caller:
    return caller_of(cast, "office")


@pytest.fixture
def crew(cast) -> Caller:
    return caller_of(cast, "crew")


@pytest.fixture
def nobody(cast) -> Caller:
    return caller_of(cast, "nobody")
