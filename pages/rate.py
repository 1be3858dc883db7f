"""How often something may be asked, counted in the cache."""

import time
from hashlib import sha256

from django.core.cache import cache
from django.http import HttpRequest


def client(request: HttpRequest) -> str:
    """Whom a request without a name is counted by: its network address (a proxy's, where none is trusted)."""
    return request.META.get("REMOTE_ADDR", "")


def wait_seconds(what: str, who: str, *, most: int, within_s: int) -> int:
    """0 while `who` has asked for `what` at most `most` times in this span; else the seconds until the next span.

    `who` may be a secret: only its hash is used. A cache that is down counts nothing.
    """
    span, into = divmod(int(time.time()), within_s)
    key = f"rate:{what}:{sha256(who.encode()).hexdigest()[:24]}:{span}"
    cache.add(key, 0, within_s)
    try:
        asked = cache.incr(key)
    except ValueError:  # it ran out in between
        return 0
    return 0 if asked <= most else max(1, within_s - into)
