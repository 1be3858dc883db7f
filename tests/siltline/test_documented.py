"""Every setting and every command is documented where people look for it."""

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
DOCUMENTED = (ROOT / "docs" / "operations.md").read_text()


def test_every_setting_is_documented():
    source = (ROOT / "siltline" / "settings.py").read_text()
    names = set(re.findall(r'"(SILTLINE_[A-Z_]+|REDIS_URL|DATABASE_URL)"', source))
    assert len(names) > 15
    assert sorted(name for name in names if f"`{name}`" not in DOCUMENTED) == []


def test_every_command_is_documented():
    commands = {path.stem for path in ROOT.glob("*/management/commands/*.py")} - {"__init__"}
    assert {"due", "serve", "import_register"} <= commands
    assert sorted(name for name in commands if f"`{name}`" not in DOCUMENTED) == []


def test_the_readme_names_both_commands_and_the_first_test_to_read():
    readme = (ROOT / "README.md").read_text()
    for words in ("make run", "make test", "tests/test_main_job.py", "var/demo.json"):
        assert words in readme
