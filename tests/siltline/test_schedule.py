"""The timetable names tasks that exist, and each queue has exactly one worker that takes it."""

import pytest
from celery.schedules import crontab
from django.conf import settings

from siltline import schedule
from siltline.celery import app


@pytest.fixture(scope="module", autouse=True)
def tasks_loaded():
    app.loader.import_default_modules()


@pytest.mark.parametrize("entry", schedule.TIMETABLE, ids=lambda entry: entry.name)
def test_each_entry_names_a_task_and_a_queue(entry):
    assert entry.task in app.tasks
    assert entry.queue in settings.QUEUES
    if not isinstance(entry.every, crontab):
        # A call that nobody took must not pile up behind the next ones for long.
        assert entry.expires_s <= 4 * entry.every


@pytest.mark.parametrize(
    ("task", "queue", "every"),
    [
        ("core.tasks.heartbeat", "pulse", 15),
        ("maintenance.tasks.send_due", "mail", 20),
        ("maintenance.tasks.scan_occasions", "pulse", 60),
        ("maintenance.tasks.apply_waiting", "pulse", 60),
        ("maintenance.tasks.refresh_stale", "pulse", 60),
        ("maintenance.tasks.keep_refreshing", "pulse", 60),
        ("maintenance.tasks.nightly", "default", schedule.NIGHT),
        ("maintenance.tasks.recompute_starts", "default", schedule.NIGHT),
        ("core.tasks.sweep", "default", schedule.NIGHT),
    ],
)
def test_what_can_be_lost_is_looked_for_again(task, queue, every):
    """The queue may lose messages: whatever a kill leaves half done has a sweep on the timetable."""
    assert [(entry.queue, entry.every) for entry in schedule.TIMETABLE if entry.task == task] == [(queue, every)]


def test_every_queue_has_one_worker():
    taken = [queue for worker in schedule.WORKERS for queue in worker.queues]
    assert sorted(taken) == sorted(settings.QUEUES)


def test_what_must_not_starve_is_not_beside_what_takes_long():
    beside = {queue: worker.queues for worker in schedule.WORKERS for queue in worker.queues}
    for entry in schedule.TIMETABLE:
        if not isinstance(entry.every, crontab):
            assert not {"default", "planning"} & set(beside[entry.queue]), entry.name


def test_a_task_rung_by_name_goes_to_its_own_queue():
    assert app.amqp.router.route({}, "core.tasks.heartbeat")["queue"].name == "pulse"
    assert app.amqp.router.route({}, "some.other.task")["queue"].name == "default"


def test_nothing_is_sent_about_the_queue_itself():
    assert app.conf.worker_send_task_events is False
    assert app.conf.worker_enable_remote_control is False
    assert app.conf.task_acks_late is False
    assert app.conf.result_backend is None
