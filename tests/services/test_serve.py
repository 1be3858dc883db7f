"""`manage.py serve`: everything starts together, ends together, and whoever dies is started again, three times."""

import os
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from contextlib import closing

import pytest

from siltline import schedule
from tests.own_servers import free_port
from tests.services.servers import PARTS, ROOT, environment, manage, status
from tests.services.waiting import until

pytestmark = pytest.mark.serial


def wait_for_the_end(server, *, within_s: float) -> int:
    began = time.monotonic()
    code = server.process.wait(timeout=within_s + 20)
    assert time.monotonic() - began < within_s
    assert server.alive() == set(), server.log
    return code


def heartbeats(folder) -> set[str]:
    with closing(sqlite3.connect(f"file:{folder / 'siltline.sqlite3'}?mode=ro", uri=True)) as database:
        return {name for (name,) in database.execute("SELECT name FROM core_heartbeat")}


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_one_signal_stops_all_of_it_cleanly(server, number):
    one = server().start()
    one.wait_until_it_answers()
    one.wait_for_parts()
    assert status(f"{one.url}/") == 200
    one.send(number)
    assert wait_for_the_end(one, within_s=12) == 0
    assert one.log.rstrip().endswith("stopped")
    assert "Traceback" not in one.log
    assert status(f"{one.url}/") == 0


def test_ctrl_c_in_the_terminal_reaches_the_server_alone(server):
    """The terminal sends SIGINT to the foreground group: the parts are not in it and are stopped in order."""
    one = server().start()
    one.wait_until_it_answers()
    one.wait_for_parts()
    os.killpg(one.process.pid, signal.SIGINT)
    assert wait_for_the_end(one, within_s=12) == 0
    assert "Traceback" not in one.log


def test_it_stops_although_sigint_was_ignored_when_it_started(server):
    """A shell without job control starts background programs with SIGINT ignored."""
    one = server().start(before=("sh", "-c", 'trap "" INT; exec "$@"', "sh"))
    one.wait_until_it_answers()
    one.wait_for_parts()
    one.send(signal.SIGINT)
    assert wait_for_the_end(one, within_s=12) == 0


def test_under_nohup_it_outlives_its_terminal(server):
    one = server().start(before=("sh", "-c", 'trap "" HUP; exec "$@"', "sh"))
    one.wait_until_it_answers()
    one.send(signal.SIGHUP)
    assert status(f"{one.url}/") == 200
    assert not one.ended()


def test_stopped_in_the_middle_of_starting_nothing_is_left(server):
    one = server().start()
    until(lambda: one.parts() or one.ended(), within_s=30, what="the first part")
    one.send(signal.SIGINT)
    assert wait_for_the_end(one, within_s=8) == 0


def test_the_whole_site_starts_shows_life_and_stops(server, data_folder):
    one = server(data_folder, real=True).start()
    one.wait_until_it_answers()
    assert status(f"{one.url}/") == 200
    one.wait_for_parts()
    until(lambda: {"worker", "scheduler", "outbox"} <= heartbeats(data_folder), within_s=60, what="all heartbeats")
    alive = manage(data_folder, "alive", "worker", "scheduler", check=False)
    assert alive.returncode == 0, alive.stderr
    one.send(signal.SIGINT)
    assert wait_for_the_end(one, within_s=12) == 0
    assert "Traceback" not in one.log


def test_the_timetable_reaches_its_workers(server):
    one = server().start()
    ran = {entry.task for entry in schedule.TIMETABLE if isinstance(entry.every, int) and entry.every <= 20}
    assert len(ran) >= 2
    for task in ran:
        until((one.folder / f"ran-{task}").exists, within_s=60, what=f"{task}\n{one.log}")


def test_each_part_killed_is_started_again_and_the_others_never_notice(server):
    one = server().start()
    one.wait_until_it_answers()
    for name in sorted(PARTS):
        before = one.wait_for_parts()
        os.kill(before[name], signal.SIGKILL)
        until(lambda name=name, old=before[name]: one.parts().get(name, old) != old, within_s=20, what=f"{name} again")
        after = one.wait_for_parts()
        assert {other for other in PARTS if after[other] != before[other]} == {name}
        assert f"{name} was ended by SIGKILL; started again in 1 s" in one.log
        assert status(f"{one.url}/") == 200
    one.send(signal.SIGTERM)
    assert wait_for_the_end(one, within_s=12) == 0


def test_a_part_that_dies_again_and_again_ends_the_server(server):
    one = server().start()
    one.wait_for_parts()
    for pause in (1, 2, 4):
        os.kill(one.parts()["worker"], signal.SIGKILL)
        until(lambda pause=pause: f"started again in {pause} s" in one.log, within_s=10, what=f"the pause of {pause} s")
        until(lambda: "worker" in one.parts(), within_s=15, what="the worker again")
    os.kill(one.parts()["worker"], signal.SIGKILL)
    assert wait_for_the_end(one, within_s=10) == 1
    assert "worker was ended by SIGKILL again after 3 restarts: stopping" in one.log


def test_parts_end_with_a_killed_server_and_a_new_one_may_start_at_once(server):
    one = server().start()
    one.wait_until_it_answers()
    one.wait_for_parts()
    one.process.kill()
    one.process.wait()
    two = server().start()
    two.wait_until_it_answers()
    assert one.alive() == set()
    assert status(f"{two.url}/") == 200


def test_a_part_that_does_not_stop_is_killed_after_four_seconds(server):
    one = server().start()
    one.wait_until_it_answers()
    parts = one.wait_for_parts()
    os.kill(parts["beat"], signal.SIGSTOP)  # cannot even hear SIGTERM
    one.send(signal.SIGINT)
    assert wait_for_the_end(one, within_s=8) == 0
    assert "beat did not stop within 4 s: killed" in one.log


def test_a_second_start_says_who_runs_where(server):
    one = server().start()
    one.wait_for_parts()
    two = server().start()
    assert two.process.wait(timeout=30) == 1
    assert f"already runs on the data in {one.folder}: process {one.process.pid}, {one.url}" in two.log
    assert "SILTLINE_VAR" in two.log
    assert "Traceback" not in two.log
    assert not one.ended()


def test_a_taken_port_is_told_and_nothing_is_started(server):
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        one = server(port=other.getsockname()[1]).start()
        assert one.process.wait(timeout=30) == 1
        assert f"Port {one.port} on 127.0.0.1 is taken by another program" in one.log
        assert f"SILTLINE_PORT={one.port + 1}" in one.log
        assert "Traceback" not in one.log
        assert one.seen == set()


def test_an_address_that_is_not_ours_is_told(server):
    # 203.0.113.0/24 is kept for documentation: RFC 5737 section 3.
    one = server(SILTLINE_BIND="203.0.113.7").start()
    assert one.process.wait(timeout=30) == 1
    assert "SILTLINE_BIND=203.0.113.7 is not an address of this machine" in one.log


def test_several_web_processes_share_one_port(server):
    one = server(options=("--web", "3")).start()
    one.wait_until_it_answers()
    webs = {name: pid for name, pid in one.parts().items() if name.startswith("web")}
    assert len(webs) == 3
    for pid in list(webs.values())[:2]:
        os.kill(pid, signal.SIGKILL)
    assert status(f"{one.url}/") == 200
    one.send(signal.SIGINT)
    assert wait_for_the_end(one, within_s=12) == 0


@pytest.mark.parametrize(("only", "parts"), [("web", {"web"}), ("worker", PARTS - {"web", "beat"}), ("beat", {"beat"})])
def test_one_part_alone_as_containers_run_it(server, only, parts):
    one = server(options=("--only", only)).start()
    one.wait_for_parts(parts)
    one.send(signal.SIGTERM)
    assert wait_for_the_end(one, within_s=12) == 0


def test_a_child_without_a_server_binds_the_port_itself(tmp_path):
    port = free_port()
    env = environment(tmp_path, port)
    process = subprocess.Popen([sys.executable, "manage.py", "child", "web"], cwd=ROOT, env=env)
    try:
        until(lambda: status(f"http://127.0.0.1:{port}/") == 200, within_s=40, what="the first answer")
    finally:
        process.terminate()
        assert process.wait(timeout=10) == 0


def test_setup_does_nothing_twice(data_folder):
    assert manage(data_folder, "setup").stdout == ""
    with closing(sqlite3.connect(data_folder / "siltline.sqlite3")) as database:
        assert database.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_three_may_set_up_the_same_new_folder_at_once(tmp_path):
    env = environment(tmp_path / "new", 1, real=True)
    command = [sys.executable, "manage.py", "setup"]
    started = [
        subprocess.Popen(command, cwd=ROOT, env=env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        for _ in range(3)
    ]
    said = [process.communicate(timeout=180)[0] for process in started]
    assert [process.returncode for process in started] == [0, 0, 0], said


def test_alive_tells_by_exit_code(data_folder):
    run = manage(data_folder, "alive", "worker", "scheduler", check=False)
    assert run.returncode == 1
    assert "Worker: no sign of life" in run.stderr
