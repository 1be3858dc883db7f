"""A mechanical checker of calendar feeds: one id a requirement, the ids of ROWS.

``check_feed(body_or_response)``           ids that one body, or one answer with its headers, fails
``check_http(fetch, path, wrong_path)``    all H rows of a feed that can be asked, and its body
``check_series(old, new)``                 the S rows between two fetches
``explain(...)``                           the same as check_feed with the faults in words

It shares no code with what writes the feed. Sources are the sections named in ROWS.
"""

from datetime import UTC, datetime
from typing import Any

from tests.feedcheck import events, head, readers, stream, zones  # noqa: F401  (they register their rows)
from tests.feedcheck.asking import Answer, Fetch, django_answer, django_fetch, live_fetch
from tests.feedcheck.feed import CANCELLED_WORDS, RULES, Feed
from tests.feedcheck.http import ANSWER_RULES, HTTP_RULES, Site
from tests.feedcheck.rows import ROWS
from tests.feedcheck.series import SERIES_ROWS, check_series

__all__ = [
    "HTTP_RULES",
    "ROWS",
    "RULES",
    "SERIES_ROWS",
    "Answer",
    "check_feed",
    "check_http",
    "check_series",
    "django_fetch",
    "explain",
    "live_fetch",
]


def explain(
    response_or_bytes: Any,
    *,
    now: datetime | None = None,
    forbid: tuple[str, ...] = (),
    cancelled_words: tuple[str, ...] = CANCELLED_WORDS,
) -> dict[str, list[str]]:
    """Faults by row id of a body (bytes), an Answer, or a Django response; {} if there is none.

    Of a response also the rows that one answer can show: H01 to H03, H08, H11, H21, H23. ``forbid``: texts that must
    not be in the feed (E23). ``now`` (aware): the moment it is judged at, the clock if None.
    """
    moment = now or datetime.now(UTC)
    faults: dict[str, list[str]] = {}
    body, media_type = response_or_bytes, None
    if not isinstance(response_or_bytes, bytes):
        answer = response_or_bytes if isinstance(response_or_bytes, Answer) else django_answer(response_or_bytes)
        body, media_type = answer.content, answer.header("Content-Type")
        faults = {row_id: list(rule(answer, moment)) for row_id, rule in ANSWER_RULES.items()}
    feed = Feed(body, moment, media_type, forbid, cancelled_words)
    faults |= {row_id: list(rule(feed)) for row_id, rule in RULES.items()}
    return {row_id: found for row_id, found in sorted(faults.items()) if found}


def check_feed(response_or_bytes: Any, **options: Any) -> list[str]:
    """Ids of the rows a body or an answer fails, sorted; [] is a good feed. Options as ``explain``."""
    return list(explain(response_or_bytes, **options))


def check_http(
    fetch: Fetch,
    path: str,
    wrong_path: str,
    *,
    revoked_path: str | None = None,
    base: str = "https://calendar.example.org",
    now: datetime | None = None,
    **options: Any,
) -> list[str]:
    """Ids of all H rows and body rows a feed fails when asked by ``fetch``. ``wrong_path``: same form, unknown token.

    ``base`` is the public address in front of ``path`` (for H18 and H24). Other options as ``explain``.
    """
    moment = now or datetime.now(UTC)
    site = Site(fetch, path, wrong_path, revoked_path, base, moment)
    failed = {row_id for row_id, rule in HTTP_RULES.items() if any(rule(site))}
    answer = site.get()
    if answer.status == 200:
        failed.update(check_feed(answer, now=moment, **options))
    return sorted(failed)
