"""A refresh of the whole register in pieces: taken once, stopped, resumed, given up, and never lost."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from core import clock
from core.problem import Conflict
from jobs.edits import raise_revision
from maintenance import learning, night, refresh, refresh_run
from maintenance.models import DueWindow, LearnedLife, PropertyForecast, RefreshPiece, RefreshRun
from tests.factories import AT, RefreshRunFactory
from tests.maintenance.refresh.yards import act, many, set_up

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _small_pieces(monkeypatch) -> None:
    monkeypatch.setattr(refresh_run, "PIECE", 2)


def begun(properties: int = 5) -> RefreshRun:
    set_up()
    many(properties, 2)
    return refresh_run.begin(act=act())


def undone(run: RefreshRun, stage: int | None = None) -> int:
    rows = run.pieces.filter(done_at=None)
    return rows.count() if stage is None else rows.filter(stage=stage).count()


def test_a_run_learns_computes_every_property_and_ends() -> None:
    run = begun()
    assert list(run.pieces.values_list("stage", "properties")) == [(0, 0), (1, 2), (1, 2), (1, 1), (2, 0)]
    assert (run.properties, run.state, run.open) == (5, "running", 1)
    steps = 0
    while refresh_run.step(act=act()):
        steps += 1
    run.refresh_from_db()
    assert steps == 5
    assert (run.state, run.open, run.result["groups_learned"]) == ("done", None, 0)
    assert run.finished_at is not None
    assert LearnedLife.objects.filter(run=run.uid).exists()
    assert PropertyForecast.objects.filter(as_of=run.as_of).count() == 5
    assert sum(run.pieces.values_list("computed", flat=True)) == 5
    assert not refresh_run.step(act=act())


def test_stages_wait_for_each_other() -> None:
    run = begun()
    first = refresh_run._take(act())
    assert first is not None
    assert first.piece.stage == refresh_run.LEARN
    assert refresh_run._take(act()) is None, "nothing is computed before it is learned"
    refresh_run._do(act(), first)
    taken = [refresh_run._take(act()) for _ in range(4)]
    assert [t and t.piece.number for t in taken] == [1, 2, 3, None]
    assert undone(run, refresh_run.FOLLOW) == 1


def test_one_run_is_open_at_a_time_and_an_old_one_gives_way() -> None:
    run = begun()
    assert refresh_run.begin(act=act(AT + timedelta(hours=1))) == run
    refresh_run.stop(act=act(), run=run)
    assert refresh_run.begin(act=act(AT + timedelta(hours=1))) == run, "stopped stays stopped"
    next_day = refresh_run.begin(act=act(AT + timedelta(days=1)))
    run.refresh_from_db()
    assert (run.state, run.open) == ("stopped", None)
    assert (next_day.open, next_day.as_of) == (1, run.as_of + timedelta(days=1))
    with pytest.raises(Conflict, match="over"):
        refresh_run.resume(act=act(), run=run)


def test_a_stopped_run_takes_no_piece_keeps_what_is_done_and_goes_on(django_capture_on_commit_callbacks) -> None:
    run = begun()
    for _ in range(2):
        assert refresh_run.step(act=act())
    in_hand = refresh_run._take(act())
    by = act(AT + timedelta(minutes=1))
    assert refresh_run.stop(act=by, run=run).state == "stopped"
    assert refresh_run.stop(act=by, run=run).changed_by == by.who
    assert not refresh_run.step(act=act())
    assert refresh_run.keep_going(act=act()) == 0
    assert in_hand is not None
    refresh_run._do(act(), in_hand)
    assert undone(run) == 2, "the piece under way was finished"
    with django_capture_on_commit_callbacks() as rung:
        refresh_run.resume(act=by, run=run)
    assert len(rung) == 4
    while refresh_run.step(act=act()):
        pass
    run.refresh_from_db()
    assert (run.state, undone(run)) == ("done", 0)


def test_a_piece_whose_worker_died_is_taken_again_when_its_lease_is_over() -> None:
    run = begun()
    dead = refresh_run._take(act())
    assert dead is not None
    assert refresh_run.keep_going(act=act()) == 0
    RefreshPiece.objects.filter(pk=dead.piece.pk).update(lease_until=clock.now() - timedelta(seconds=1))
    # The sweep reckons with the instant of its act.
    later = act(clock.now())
    assert refresh_run.keep_going(act=later) == 1
    again = refresh_run._take(act())
    assert again is not None
    assert (again.piece.pk, again.piece.tries) == (dead.piece.pk, 2)
    assert not refresh_run._do(act(), dead), "the dead one's word does not count when it comes after all"
    assert undone(run, refresh_run.LEARN) == 1
    refresh_run._do(act(), again)
    assert undone(run, refresh_run.LEARN) == 0
    assert LearnedLife.objects.values("run").distinct().count() == 1


def test_whoever_lost_the_lease_while_learning_writes_nothing() -> None:
    begun()
    slow = refresh_run._take(act())
    assert slow is not None
    RefreshPiece.objects.filter(pk=slow.piece.pk).update(claim=None)
    with pytest.raises(refresh_run.LeaseLost):
        refresh_run._still(slow)
    refresh_run._do(act(), slow)
    assert not LearnedLife.objects.exists()


def test_a_piece_that_fails_is_tried_three_times_told_and_stops_no_other(monkeypatch, caplog) -> None:
    run = begun()

    def broken(**_: object) -> None:
        raise OSError("the disk is full")

    monkeypatch.setattr(learning, "learn", broken)
    while refresh_run.step(act=act()):
        pass
    run.refresh_from_db()
    assert run.state == "done"
    piece = run.pieces.get(stage=refresh_run.LEARN)
    assert (piece.tries, piece.failed) == (3, "OSError: the disk is full")
    assert PropertyForecast.objects.count() == 5
    assert "the disk is full" in caplog.text


def test_a_piece_that_kills_its_worker_is_given_up_after_three_tries() -> None:
    run = begun()
    RefreshPiece.objects.filter(run=run, stage=refresh_run.LEARN).update(tries=3)
    assert refresh_run.step(act=act())
    piece = run.pieces.get(stage=refresh_run.LEARN)
    assert piece.done_at is not None
    assert "its worker died each time" in piece.failed


def test_a_bell_rings_as_many_hands_as_are_set_and_more_when_a_stage_is_done(
    settings, django_capture_on_commit_callbacks
) -> None:
    settings.REFRESH_HANDS = 3
    set_up()
    many(5, 2)
    with django_capture_on_commit_callbacks() as begin:
        refresh_run.begin(act=act())
    with django_capture_on_commit_callbacks() as learned:
        refresh_run.step(act=act())
    with django_capture_on_commit_callbacks() as one_of_three:
        refresh_run.step(act=act())
    assert (len(begin), len(learned), len(one_of_three)) == (3, 3, 1)


def test_while_a_run_is_open_the_sweep_takes_only_what_changed() -> None:
    run = begun()
    keys = list(PropertyForecast.objects.values_list("property_id", flat=True))
    assert not keys
    assert refresh.refresh_stale(act=act()) == 5, "never computed: they wait for nobody"
    learning.learn(act=act())
    assert refresh.refresh_stale(act=act()) == 0, "what was learned makes all stale, and that is the run's work"
    raise_revision(PropertyForecast.objects.first().property_id)
    assert refresh.refresh_stale(act=act()) == 1
    refresh_run._close(run.pk, act(), "stopped")
    assert refresh.refresh_stale(act=act()) == 4


def test_a_night_rung_twice_is_one_night() -> None:
    set_up()
    many(3, 2)
    assert night.begin_night(act=act()) == night.begin_night(act=act(AT + timedelta(minutes=1)))
    while refresh_run.step(act=act()):
        pass
    assert night.begin_night(act=act(AT + timedelta(hours=2))).state == "done"
    assert RefreshRun.objects.count() == 1
    by_hand = refresh_run.begin(act=act(AT + timedelta(hours=3)))
    assert by_hand.open == 1, "a person may begin another one"


def test_a_second_run_on_the_same_day_writes_no_window() -> None:
    begun()
    while refresh_run.step(act=act()):
        pass
    before = list(DueWindow.objects.order_by("id").values())
    refresh_run.begin(act=act(AT + timedelta(hours=1)))
    while refresh_run.step(act=act(AT + timedelta(hours=1))):
        pass
    assert list(DueWindow.objects.order_by("id").values()) == before


def test_a_piece_costs_the_same_queries_however_many_properties(monkeypatch) -> None:
    counts = []
    for size in (3, 30):
        monkeypatch.setattr(refresh_run, "PIECE", size)
        RefreshRun.objects.all().delete()
        set_up() if size == 3 else None
        many(size, 3)
        refresh_run.begin(act=act(AT + timedelta(minutes=size)))
        refresh_run.step(act=act())
        with CaptureQueriesContext(connection) as queries:
            refresh_run.step(act=act(AT + timedelta(minutes=size)))
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_a_closed_run_cannot_be_stopped() -> None:
    with pytest.raises(Conflict, match="begin another one"):
        refresh_run.stop(act=act(), run=RefreshRunFactory())
