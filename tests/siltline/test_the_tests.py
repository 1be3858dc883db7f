"""The rules of tests/conftest.py hold: missing needs are told, or fail where they are required; counts have a floor."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests import counted, needs

ROOT = Path(__file__).resolve().parents[2]


def test_an_unknown_need_is_refused(monkeypatch):
    monkeypatch.setenv("SILTLINE_REQUIRE", "postgres,quartz")
    with pytest.raises(ValueError, match="quartz"):
        needs.required()


def test_every_need_has_a_marker_and_words(pytestconfig):
    markers = {line.partition(":")[0] for line in pytestconfig.getini("markers")}
    assert set(needs.HOW) <= markers
    assert all("install" in words for words in needs.HOW.values())


def test_too_few_tests_are_told():
    least = counted.minimum("fast")
    assert counted.complaint("fast", least) is None
    assert str(least) in counted.complaint("fast", least - 1)
    with pytest.raises(KeyError, match="no suite quartz"):
        counted.minimum("quartz")


@pytest.mark.parametrize(("require", "outcome"), [("", "1 skipped"), ("node", "1 error")])
def test_a_missing_need_skips_or_fails(tmp_path, require, outcome):
    """Run one test marked `node` where no Node.js can be found."""
    probe = tmp_path / "test_probe.py"
    probe.write_text("import pytest\n\n\n@pytest.mark.node\ndef test_node():\n    pass\n")
    env = os.environ | {"PATH": str(tmp_path), "SILTLINE_REQUIRE": require}
    env.pop("SILTLINE_SUITE", None)
    env.pop("SILTLINE_VAR", None)  # the inner run makes and removes a folder of its own
    command = [sys.executable, "-m", "pytest", "-p", "tests.conftest", "-p", "no:cacheprovider", "-rs"]
    command += ["-c", str(ROOT / "pyproject.toml"), str(probe)]
    run = subprocess.run(command, cwd=ROOT, env=env, capture_output=True, text=True, timeout=120)
    assert outcome in run.stdout, run.stdout + run.stderr
    assert needs.HOW["node"].split(" (")[0] in run.stdout
