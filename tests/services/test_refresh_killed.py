"""A worker killed in the middle of the nightly refresh loses nothing: its piece is taken again when its lease is over.

Real worker processes on the file queue. The control takes the lease away: then the piece stays lost for ever.
"""

import contextlib
import os
import signal
import sqlite3
import subprocess
import sys
from pathlib import Path
from typing import Any
from uuid import uuid4

import psycopg
import pytest

from tests.services.servers import ROOT, environment, manage
from tests.services.waiting import until

pytestmark = pytest.mark.serial

PROPERTIES = 40
YARDS = f"""
from tests.maintenance.refresh.yards import many, set_up
set_up()
many({PROPERTIES}, 12)
"""
BEGIN = """
from core.act import by_system
from maintenance import refresh_run
refresh_run.PIECE = 2
refresh_run.begin(act=by_system("test"))
"""
LOOK = {
    "state": "SELECT state FROM maintenance_refreshrun",
    "undone": "SELECT count(*) FROM maintenance_refreshpiece WHERE done_at IS NULL",
    "done": "SELECT count(*) FROM maintenance_refreshpiece WHERE done_at IS NOT NULL",
    "held": "SELECT max(number) FROM maintenance_refreshpiece WHERE done_at IS NULL AND claim IS NOT NULL",
    "forecasts": "SELECT count(*) FROM maintenance_propertyforecast WHERE failed = ''",
}
WINDOWS = """
from maintenance.models import DueWindow
names = [f.name for f in DueWindow._meta.fields if f.name != "id"]
print(list(DueWindow.objects.order_by("component", "task", "who").values_list(*names)))
"""
AGAIN = """
from core import clock
from core.act import by_system
from maintenance import refresh
from maintenance.models import DueWindow, PropertyForecast
DueWindow.objects.all().delete()
PropertyForecast.objects.all().delete()
refresh.refresh_all(act=by_system("test"))
"""
RING = """
from maintenance import tasks
tasks.keep_refreshing()
"""


class Company:
    """A set-up company in a folder, worker processes on it, and Python run beside them."""

    def __init__(self, folder: Path, lease_s: str, database: str) -> None:
        self.folder, self.database = folder, database
        self.env = environment(folder, 1, real=True) | {
            "SILTLINE_REFRESH_LEASE_S": lease_s,
            "SILTLINE_REFRESH_HANDS": "1",
            "OPENBLAS_NUM_THREADS": "1",
        }
        if database:
            self.env["DATABASE_URL"] = database
        self.workers: list[subprocess.Popen[bytes]] = []

    def python(self, code: str) -> str:
        head = "import django\ndjango.setup()\n"
        command = [sys.executable, "-c", head + code]
        done = subprocess.run(command, cwd=ROOT, env=self.env, capture_output=True, text=True, timeout=180)
        assert done.returncode == 0, done.stderr
        return done.stdout

    def look(self, what: str) -> Any:
        """One value straight from the database: quick enough to catch a piece in hand."""
        if self.database:
            with psycopg.connect(self.database) as link:
                return link.execute(LOOK[what]).fetchone()[0]
        with contextlib.closing(sqlite3.connect(self.folder / "siltline.sqlite3", timeout=20)) as link:
            return link.execute(LOOK[what]).fetchone()[0]

    def worker(self) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", "celery", "-A", "siltline.celery", "worker", "-P", "solo", "-Q", "planning"]
        command += ["--without-gossip", "--without-mingle", "--without-heartbeat"]
        with (self.folder / f"worker-{len(self.workers)}.log").open("wb") as log:
            process = subprocess.Popen(
                command, cwd=ROOT, env=self.env, stdin=subprocess.DEVNULL, stdout=log, stderr=log
            )
        self.workers.append(process)
        return process

    def killed_in_the_middle(self) -> int:
        """Start a worker and kill it while it holds a piece of windows, some done before it; returns that piece."""
        worker = self.worker()

        def holds() -> int | None:
            if self.look("done") < 3 or not self.look("held"):
                return None
            # Frozen first: what it holds now it will hold when it dies.
            os.kill(worker.pid, signal.SIGSTOP)
            held: int | None = self.look("held")
            if held is None:
                os.kill(worker.pid, signal.SIGCONT)
            return held

        piece = until(holds, within_s=120, what="a worker in the middle of a piece")
        worker.kill()
        worker.wait()
        return int(str(piece))

    def clear(self) -> None:
        for process in self.workers:
            process.kill()
            process.wait()


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def company(request, data_folder):
    """Make a company whose run has begun, on either engine; its workers are killed in the end."""
    database = ""
    if request.param == "postgres":
        database = request.getfixturevalue("own_postgres").create(f"refresh_{uuid4().hex[:8]}")
    made: list[Company] = []

    def make(lease_s: str) -> Company:
        one = Company(data_folder, lease_s, database)
        made.append(one)
        if database:
            manage(data_folder, "setup", DATABASE_URL=database)
        one.python(YARDS + BEGIN)
        return one

    yield make
    for one in made:
        one.clear()


def test_a_killed_worker_loses_nothing(company):
    one = company("3")
    one.killed_in_the_middle()
    assert one.look("state") == "running"
    assert one.look("forecasts") < PROPERTIES
    one.worker()
    one.worker()

    def over() -> bool:
        one.python(RING)  # what the timetable does every minute
        return bool(one.look("state") == "done")

    until(over, within_s=180, what="the end of the run")
    assert (one.look("undone"), one.look("forecasts")) == (0, PROPERTIES)
    killed = one.python(WINDOWS)
    one.python(AGAIN)
    assert killed == one.python(WINDOWS), "the same windows as one process writes that nobody kills"


def test_control_without_a_lease_the_killed_piece_is_lost(company):
    one = company("86400")
    piece = one.killed_in_the_middle()
    one.worker()

    def nothing_else_left() -> bool:
        one.python(RING)
        return bool(one.look("held") == piece and one.look("undone") == 2)

    until(nothing_else_left, within_s=180, what="only the lost piece and what waits for it")
    assert one.look("state") == "running"
    assert one.look("forecasts") < PROPERTIES
