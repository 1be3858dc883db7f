"""Several workers at once on PostgreSQL, each test with its control."""

import os
import threading

import pytest
from django.db import connection, transaction

from maintenance import odd_readings, refresh, refresh_run
from maintenance.models import OddReading, RefreshPiece, RefreshRun
from maintenance.read.windows import compute
from tests.factories import TODAY
from tests.maintenance.closeout.test_races import at_once
from tests.maintenance.refresh.test_odd_readings import fallen, rows
from tests.maintenance.refresh.yards import act, many, set_up

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


def test_eight_workers_take_every_piece_once(monkeypatch) -> None:
    monkeypatch.setattr(refresh_run, "PIECE", 1)
    set_up()
    many(40, 1)
    run = refresh_run.begin(act=act())
    RefreshPiece.objects.filter(run=run, stage=refresh_run.LEARN).update(done_at=run.started_at)

    def take_all(_: int) -> list[int]:
        mine = []
        while (taken := refresh_run._take(act())) is not None:
            mine.append(taken.piece.pk)
        return mine

    results = at_once(8, take_all)
    taken = sorted(key for mine in results for key in mine)
    assert taken == sorted(run.pieces.filter(stage=refresh_run.COMPUTE).values_list("pk", flat=True))
    assert set(run.pieces.filter(stage=refresh_run.COMPUTE).values_list("tries", flat=True)) == {1}


def test_control_reading_and_then_saving_takes_pieces_twice() -> None:
    set_up()
    many(2, 1)
    run = refresh_run.begin(act=act())
    RefreshPiece.objects.filter(run=run, stage=refresh_run.LEARN).update(done_at=run.started_at)
    met = threading.Barrier(8)

    def naive(number: int) -> int:
        piece = RefreshPiece.objects.filter(run=run, stage=refresh_run.COMPUTE, claim=None).first()
        met.wait(10)
        piece.tries += 1
        piece.save()
        return piece.pk

    results = at_once(8, naive)
    assert len(results) > len(set(results))


def test_eight_begin_one_run() -> None:
    set_up()
    many(2, 1)
    results = at_once(8, lambda _: refresh_run.begin(act=act()))
    assert len({run.pk for run in results}) == 1
    assert RefreshRun.objects.count() == 1
