"""Rules for all tests: repeatable random examples, plain words for what is missing, and a least count per suite."""

import os
import shutil
import zoneinfo
from collections.abc import Iterator

import pytest
from django.conf import settings
from hypothesis import HealthCheck
from hypothesis import settings as hypothesis_settings

from tests import counted, needs
from tests.own_servers import Postgres, Redis

# Zone rules come from the locked tzdata package, whatever the machine has.
zoneinfo.reset_tzpath(to=())

hypothesis_settings.register_profile(
    "repeatable", derandomize=True, deadline=None, database=None, suppress_health_check=[HealthCheck.too_slow]
)
hypothesis_settings.load_profile("repeatable")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    required = needs.required()
    for item in items:
        for need in needs.HOW:
            if item.get_closest_marker(need) is None or _has(item, need):
                continue
            if need in required and not _wants_suite_on_postgres(item, need):
                item.add_marker(pytest.mark.fails_for_want(need))
            else:
                item.add_marker(pytest.mark.skip(reason=f"needs {need}: {needs.HOW[need]}"))


def _wants_suite_on_postgres(item: pytest.Item, need: str) -> bool:
    """A postgres test without a server of its own runs where the suite's own database is PostgreSQL."""
    return need == "postgres" and "own_postgres" not in getattr(item, "fixturenames", ())


def _has(item: pytest.Item, need: str) -> bool:
    if _wants_suite_on_postgres(item, need):
        return "postgresql" in settings.DATABASES["default"]["ENGINE"]
    return needs.is_here(need)


def pytest_runtest_setup(item: pytest.Item) -> None:
    want = item.get_closest_marker("fails_for_want")
    if want is not None:
        pytest.fail(f"needs {want.args[0]}, and SILTLINE_REQUIRE names it: {needs.HOW[want.args[0]]}", pytrace=False)


def pytest_sessionfinish(session: pytest.Session) -> None:
    if hasattr(session.config, "workerinput"):
        return
    if settings.VAR_DIR.name.startswith("siltline-test-"):  # made by tests/settings.py; any other is somebody's data
        shutil.rmtree(settings.VAR_DIR, ignore_errors=True)
    suite = os.environ.get("SILTLINE_SUITE")
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if suite and reporter:
        wrong = counted.complaint(suite, len(reporter.stats.get("passed", [])))
        if wrong:
            reporter.write_line(wrong, red=True)
            session.exitstatus = pytest.ExitCode.TESTS_FAILED


@pytest.fixture(scope="session")
def own_postgres() -> Iterator[Postgres]:
    """A PostgreSQL server of this run alone, on a free port; tests may kill it."""
    server = Postgres()
    server.start()
    yield server
    server.close()


@pytest.fixture(scope="session")
def own_redis() -> Iterator[Redis]:
    """A Redis server of this run alone, on a free port; tests may kill it."""
    server = Redis()
    server.start()
    yield server
    server.close()
