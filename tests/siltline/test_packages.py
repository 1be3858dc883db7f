"""Locks are complete, and what must import alone does."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PIN = re.compile(r"^(?P<name>[A-Za-z0-9._-]+)(\[[^\]]*\])?==(?P<version>[^ ;\\]+)(?P<marker>[^\\]*)\\?$", re.MULTILINE)


def pins(lock: str) -> set[tuple[str, str]]:
    text = (ROOT / lock).read_text()
    return {(match["name"], match["version"]) for match in PIN.finditer(text)}


@pytest.mark.parametrize("lock", ["requirements.lock", "requirements-test.lock"])
def test_every_line_of_a_lock_is_a_pin_or_a_hash(lock):
    text = (ROOT / lock).read_text()
    blocks = re.split(r"\n(?=\S)", text.strip())
    assert len(blocks) == len(PIN.findall(text))
    for block in blocks:
        assert re.search(r"--hash=sha256:[0-9a-f]{64}", block), block.splitlines()[0]
    assert "://" not in text
    assert "--index" not in text
    assert "--find-links" not in text


def test_installing_the_test_lock_installs_the_run_lock_too():
    assert pins("requirements.lock") <= pins("requirements-test.lock")


def run_alone(code: str, folder: Path) -> subprocess.CompletedProcess[str]:
    env = {"PATH": os.environ["PATH"], "SILTLINE_VAR": str(folder)}
    return subprocess.run([sys.executable, "-c", code], cwd=ROOT, env=env, capture_output=True, text=True, timeout=60)


def test_settings_import_without_any_environment(tmp_path):
    done = run_alone("import siltline.settings as s; print(s.EMBEDDED, s.PORT, s.DEBUG)", tmp_path)
    assert done.stdout.split() == ["True", "8000", "False"], done.stderr


@pytest.mark.parametrize("package", ["hydraulics", "maintenance/forecast", "maintenance/planning", "jobs/decide"])
def test_pure_modules_import_without_django(tmp_path, package):
    modules = [
        ".".join(path.relative_to(ROOT).with_suffix("").parts)
        for path in sorted((ROOT / package).glob("*.py"))
        if path.name != "__init__.py"
    ]
    code = f"import sys, importlib\nfor name in {modules!r}: importlib.import_module(name)\n"
    code += "print(sorted({name.split('.')[0] for name in sys.modules} & {'django', 'celery', 'rest_framework'}))"
    done = run_alone(code, tmp_path)
    assert done.stdout.strip() == "[]", done.stderr
