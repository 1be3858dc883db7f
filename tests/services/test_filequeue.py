"""The embedded queue: nothing half written is read, nothing is lost or doubled, and a worker stops quickly."""

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from queue import Empty

import pytest
from kombu import Connection
from kombu.utils.json import dumps

from siltline import filequeue
from tests.services.tiny.queue_only import build
from tests.services.waiting import until

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def connection(tmp_path):
    filequeue.install()
    options = {"folder": str(tmp_path / "queue"), "polling_interval": 0.01}
    with Connection("filesystem://localhost", transport_options=options) as connection:
        yield connection


@pytest.fixture
def channel(connection):
    return connection.channel()


@pytest.fixture
def worker(tmp_path):
    """Start a worker process on `queues`; all are killed in the end."""
    started = []

    def start(queues: str, at_once: int = 2) -> subprocess.Popen:
        command = [sys.executable, "-m", "celery", "-A", "tests.services.tiny.queue_only", "worker", "-P", "threads"]
        command += ["-c", str(at_once), "-Q", queues, "--without-gossip", "--without-mingle", "--without-heartbeat"]
        env = os.environ | {"TINY_FOLDER": str(tmp_path)}
        env.pop("DJANGO_SETTINGS_MODULE", None)
        with (tmp_path / f"worker-{len(started)}.log").open("w") as log:
            process = subprocess.Popen(command, cwd=ROOT, env=env, stdin=subprocess.DEVNULL, stdout=log, stderr=log)
        started.append(process)
        return process

    yield start
    for process in started:
        process.kill()
        process.wait()


@pytest.fixture
def send(tmp_path):
    """Send a task by name: `send("note", "x", queue="pulse")`."""
    app = build(tmp_path)
    yield lambda task, *args, queue="default": app.send_task(task, args=args, queue=queue)
    app.close()


def done(tmp_path) -> set[str]:
    folder = tmp_path / "done"
    return set(os.listdir(folder)) if folder.exists() else set()


def test_the_scheme_means_our_transport(connection):
    assert type(connection.transport) is filequeue.Transport


def test_messages_come_back_whole_and_oldest_first(channel):
    for number in range(50):
        channel._put("default", {"number": number, "text": "Ü \x00 “"})
    assert channel._size("default") == 50
    assert [channel._get("default")["number"] for _ in range(50)] == list(range(50))
    with pytest.raises(Empty):
        channel._get("default")


def test_queues_do_not_see_each_other(channel):
    channel._put("default", {"a": 1})
    with pytest.raises(Empty):
        channel._get("pulse")


def test_a_message_is_never_visible_before_it_is_complete(channel, tmp_path, monkeypatch):
    seen = []
    replace = os.replace

    def look_first(source, target):
        seen.append((filequeue.message_names(tmp_path / "queue" / "default"), Path(source).stat().st_size))
        replace(source, target)

    monkeypatch.setattr(os, "replace", look_first)
    channel._put("default", {"text": "x" * 1000})
    assert [names for names, _ in seen] == [[]]
    assert seen[0][1] > 1000
    assert len(filequeue.message_names(tmp_path / "queue" / "default")) == 1


@pytest.mark.parametrize("half", [b"", b'{"body": "aGVs', b"\xff\xfe\x00", dumps({"n": 1}).encode()[:-1]])
def test_half_a_message_is_set_aside_and_the_next_one_comes(channel, tmp_path, half, caplog):
    channel._put("default", {"n": 1})
    folder = tmp_path / "queue" / "default"
    (folder / "00000000000000000001_half.msg").write_bytes(half)
    assert channel._get("default") == {"n": 1}
    aside = list((tmp_path / "queue" / "unreadable").iterdir())
    assert [path.read_bytes() for path in aside] == [half]
    assert "could not be read" in caplog.text


def test_two_readers_never_take_the_same_message(connection):
    first, second = connection.channel(), connection.channel()
    for number in range(200):
        first._put("default", {"number": number})
    # Both list before either takes.
    taken = [first._get("default")["number"], second._get("default")["number"]]
    while True:
        try:
            taken += [first._get("default")["number"], second._get("default")["number"]]
        except Empty:
            break
    assert sorted(taken) == list(range(200))


def test_waiting_for_a_message_ends_after_a_fifth_of_a_second(connection):
    consumer = connection.SimpleQueue("default").consumer
    consumer.consume()
    began = time.monotonic()
    with pytest.raises(TimeoutError):
        connection.drain_events(timeout=30)
    assert time.monotonic() - began < 1


def test_the_sweep_keeps_what_still_waits(channel, tmp_path):
    for number in range(3):
        channel._put("default", {"number": number})
    channel._get("default")
    root = tmp_path / "queue"
    (root / "default" / "1_left.part").write_bytes(b"x")
    assert filequeue.sweep(root, before_s=time.time() - 60) == 0
    assert filequeue.sweep(root, before_s=time.time() + 60) == 2
    assert filequeue.backlog(root, ["default", "mail"]) == {"default": 2, "mail": 0}


@pytest.mark.serial
def test_five_thousand_messages_at_one_a_millisecond_all_run_once(worker, send, tmp_path):
    process = worker("default")
    pace = threading.Event()

    def publish(start: int) -> None:
        for number in range(start, start + 2500):
            send("note", f"{number:05d}")
            pace.wait(0.001)

    threads = [threading.Thread(target=publish, args=(start,)) for start in (0, 2500)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    until(lambda: len(done(tmp_path)) == 5000, within_s=90, what="5,000 tasks")
    assert process.poll() is None
    log = (tmp_path / "worker-0.log").read_text()
    assert log.count("Traceback") == 0
    assert not (tmp_path / "queue" / "unreadable").exists()
    assert {path.read_text() for path in (tmp_path / "done").iterdir()} == {"once\n"}


@pytest.mark.serial
def test_half_a_message_does_not_end_a_running_worker(worker, send, tmp_path):
    folder = tmp_path / "queue" / "default"
    folder.mkdir(parents=True)
    (folder / "00000000000000000001_half.msg").write_bytes(b'{"body": "W1tdLCB7f')
    process = worker("default")
    until(lambda: (tmp_path / "queue" / "unreadable").exists(), within_s=30, what="the half message set aside")
    send("note", "after")
    until(lambda: "after" in done(tmp_path), within_s=30, what="the next task")
    assert process.poll() is None


@pytest.mark.serial
def test_a_worker_stops_within_two_seconds_and_puts_back_what_it_had_not_begun(worker, send, tmp_path):
    process = worker("default", at_once=1)
    send("note", "up")
    until(lambda: "up" in done(tmp_path), within_s=30, what="the worker's start")
    send("wait", 0.5)
    for number in range(6):
        send("note", f"later-{number}")
    root = tmp_path / "queue"
    until(lambda: filequeue.backlog(root, ["default"])["default"] == 0, within_s=10, what="the prefetch")
    began = time.monotonic()
    process.send_signal(signal.SIGTERM)
    assert process.wait(timeout=10) == 0
    assert time.monotonic() - began < 2
    assert len(done(tmp_path) - {"up"}) + filequeue.backlog(root, ["default"])["default"] == 6


@pytest.mark.serial
def test_a_backlog_of_long_tasks_does_not_starve_the_pulse(worker, send, tmp_path):
    for _ in range(40):
        send("wait", 30, queue="planning")
    worker("default,planning", at_once=2)
    worker("pulse", at_once=1)
    until(
        lambda: filequeue.backlog(tmp_path / "queue", ["planning"])["planning"] < 40, within_s=30, what="a busy worker"
    )
    began = time.monotonic()
    send("note", "beat", queue="pulse")
    until(lambda: "beat" in done(tmp_path), within_s=30, what="the pulse")
    assert time.monotonic() - began < 10
