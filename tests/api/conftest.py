"""Clients of the API: a person of the company by token, or nobody."""

from collections.abc import Callable

import pytest
from rest_framework.test import APIClient

from core import tokens
from core.act import by_system
from core.models import User
from tests.factories import OfficeFactory, UserFactory


def client_of(user: User | None) -> APIClient:
    """A client that sends this person's token as any program would."""
    client = APIClient(raise_request_exception=False)
    if user is not None:
        _, secret = tokens.issue(act=by_system("test"), kind="api", label="test", user=user)
        client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
    return client


@pytest.fixture
def office(db) -> APIClient:
    """Someone of the office."""
    return client_of(OfficeFactory())


@pytest.fixture
def crew_user(db) -> User:
    """A technician."""
    return UserFactory()


@pytest.fixture
def crew(crew_user) -> APIClient:
    """The technician's client."""
    return client_of(crew_user)


@pytest.fixture
def nobody(db) -> APIClient:
    """No token at all."""
    return client_of(None)


@pytest.fixture
def as_user() -> Callable[[User], APIClient]:
    """Make a client for a person."""
    return client_of
