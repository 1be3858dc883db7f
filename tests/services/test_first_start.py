"""From an empty folder to the demo company: what `make run` does after installing."""

import json
import signal
import stat

import pytest

from tests.services.servers import status
from tests.services.test_serve import wait_for_the_end
from tests.services.waiting import until

pytestmark = pytest.mark.serial


def first_start(server, folder, port=None):
    return server(folder, port=port, real=True, options=("--prepare",), SILTLINE_DEMO="1").start()


def test_an_empty_folder_becomes_the_demo_company_and_stays_it(server, tmp_path):
    one = first_start(server, tmp_path / "var")
    until(lambda: "answers at" in one.log or one.ended(), within_s=150, what=f"the first answer\n{one.log}")
    assert status(f"{one.url}/") == 200
    assert "Due within 60 days" in one.log
    ways = tmp_path / "var" / "demo.json"
    assert stat.S_IMODE(ways.stat().st_mode) == 0o600
    told = json.loads(ways.read_text())
    assert {"base", "office", "technician", "homeowner", "feeds"} <= told.keys()
    for role in ("office", "technician"):
        assert {"user", "password", "token"} <= told[role].keys()
    until(lambda: status(told["homeowner"]) == 200, within_s=20, what="the homeowner's page")
    one.wait_for_parts()
    one.send(signal.SIGINT)
    assert wait_for_the_end(one, within_s=12) == 0

    one.log_path.unlink()
    two = first_start(server, tmp_path / "var", one.port)
    two.wait_until_it_answers()
    assert "demo company loaded" not in two.log
    assert "migrations" not in two.log
    assert json.loads(ways.read_text())["office"] == told["office"]


def test_ctrl_c_while_the_demo_is_loaded_leaves_an_empty_database(server, tmp_path):
    one = first_start(server, tmp_path / "var")
    until(lambda: "database ready" in one.log or one.ended(), within_s=90, what=f"the set-up\n{one.log}")
    one.parts()
    one.send(signal.SIGINT)
    assert wait_for_the_end(one, within_s=12) == 0
    assert "Traceback" not in one.log
    assert "demo company loaded" not in one.log
    two = first_start(server, tmp_path / "var")
    until(lambda: "demo company loaded" in two.log or two.ended(), within_s=120, what=f"the demo\n{two.log}")
    two.parts()
    two.send(signal.SIGTERM)
    assert wait_for_the_end(two, within_s=8) == 0
