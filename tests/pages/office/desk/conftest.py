"""The office at its desk."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext


@pytest.fixture
def office(browser_of):
    return browser_of("office")


@pytest.fixture
def text_of(office):
    """The words of a page the office opens."""

    def read(path: str, *, status: int = 200) -> str:
        answer = office.get(path)
        assert answer.status_code == status, path
        return " ".join(answer.content.decode().split())

    return read


@pytest.fixture
def queries_of(office):
    """How many queries a page takes."""

    def count(path: str) -> int:
        with CaptureQueriesContext(connection) as queries:
            assert office.get(path).status_code == 200, path
        return len(queries)

    return count
