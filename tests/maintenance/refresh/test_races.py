"""Several workers at once on PostgreSQL, each test with its control."""

import os
import threading

import pytest
from django.db import connection, transaction

from maintenance import odd_readings, refresh
from maintenance.models import OddReading
from maintenance.read.windows import compute
from tests.factories import TODAY
from tests.maintenance.closeout.test_races import at_once
from tests.maintenance.refresh.test_odd_readings import fallen, rows
from tests.maintenance.refresh.yards import act, set_up

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


@pytest.fixture(autouse=True)
def on_postgres() -> None:
    if connection.vendor != "postgresql":
        if "postgres" in os.environ.get("SILTLINE_REQUIRE", ""):
            pytest.fail("PostgreSQL is required: set DATABASE_URL")
        pytest.skip("needs PostgreSQL: set DATABASE_URL")


def test_two_refreshes_at_once_judge_once() -> None:
    set_up()
    basin, *_ = fallen()
    results = at_once(6, lambda _: refresh.refresh_property(act=act(), property_id=basin.property_id))
    assert [r for r in results if isinstance(r, Exception)] == []
    assert rows() == [("fill_fell", "odd", False)]


def test_control_judging_outside_the_windows_transaction_judges_twice() -> None:
    """The same without the lock the windows' transaction holds: all ask, see nothing, and all write."""
    set_up()
    basin, *_ = fallen()
    found_now = compute(as_of=TODAY, property_ids=[basin.property_id]).properties
    met = threading.Barrier(6)

    def naive(_: int) -> int:
        with transaction.atomic():
            OddReading.objects.exists()
            met.wait(10)
            return odd_readings.record(act=act(), computed=found_now)

    results = at_once(6, naive)
    assert sum(results) > 1
