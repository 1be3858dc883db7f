"""docs/api.md names every noun, and says the limits the code has."""

from pathlib import Path

from django.conf import settings

from api import parsers, problems
from api.fields import FIRST_DAY, LAST_DAY
from api.paging import CursorByKey
from core import limits, tokens
from tests.api.routes.wired import every_route

TEXT = Path(settings.BASE_DIR, "docs", "api.md").read_text(encoding="utf-8")


def test_every_noun_is_named():
    nouns = {route.address(uid="2f2f2f2f-0000-4000-8000-000000000000").split("/")[3] for route in every_route()}
    missing = sorted(noun for noun in nouns - {"no"} if noun not in TEXT)
    assert not missing


def test_the_limits_are_those_of_the_code():
    assert f"{parsers.JSON_BYTES:,} bytes" in TEXT
    assert f"over {parsers.DEEPEST} levels" in TEXT
    assert f"`page_size` is 1 to {CursorByKey.most} ({CursorByKey.page_size} unless you say)" in TEXT
    assert f"from {FIRST_DAY.year} to {LAST_DAY.year}" in TEXT
    assert limits.FILE_BYTES == 20 * 1024 * 1024
    assert f"a photo over {limits.FILE_BYTES // 1024**2} MB" in TEXT
    assert f"({tokens.API_DAYS} unless you say)" in TEXT
    assert problems.MEDIA_TYPE in TEXT
