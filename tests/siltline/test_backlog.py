"""A backlog over 1,000 is written where the office page reads signs of life."""

import pytest

from core.models import Heartbeat
from siltline import tasks
from siltline.celery import app


@pytest.mark.django_db
def test_a_long_queue_is_told_and_a_short_one_is_not(settings, tmp_path, monkeypatch):
    monkeypatch.setitem(app.conf.broker_transport_options, "folder", str(tmp_path))
    folder = tmp_path / "mail"
    folder.mkdir()
    for number in range(1001):
        (folder / f"{number:020d}_x.msg").touch()
    tasks.watch_queue()
    assert Heartbeat.objects.get(name="queue").detail == "1001 messages wait in queue mail"
    (folder / f"{0:020d}_x.msg").unlink()
    tasks.watch_queue()
    assert Heartbeat.objects.get(name="queue").detail == ""
