"""Content lines of RFC 5545: plain text, escaping, folding, durations. Nothing here knows what an event is.

Why not leave it to the library: the library writes a backslash followed by a capital N as a line break, so that a
typed ``C:\\Notes`` comes back as two lines. Texts are escaped here and handed over finished.
"""

import re
import unicodedata
from datetime import timedelta
from urllib.parse import urlsplit

LINE_OCTETS = 75
URL_CHARACTERS = 2000
# NEL and the two Unicode separators end a line in many readers though RFC 5545 does not say so.
_LINE_ENDS = re.compile("\r\n|[\r\x0b\x0c\x85\u2028\u2029]")
_URL_TEXT = re.compile(r"[\x21-\x7e]+")
_DROPPED_CATEGORIES = ("Cc", "Cs")


def plain_text(text: str) -> str:
    r"""The text as a feed may carry it: NFC, line ends as ``\n``, no control characters but TAB, no outer space.

    >>> plain_text("one\r\ntwo\x07 ")
    'one\ntwo'
    """
    unified = _LINE_ENDS.sub("\n", text)
    kept = (c for c in unified if c in "\n\t" or unicodedata.category(c) not in _DROPPED_CATEGORIES)
    return unicodedata.normalize("NFC", "".join(kept)).strip()


def one_line(text: str) -> str:
    """``plain_text`` with line breaks and runs of space made one space, for SUMMARY, LOCATION and names."""
    return " ".join(plain_text(text).split())


def escape_text(text: str) -> str:
    r"""A TEXT value (RFC 5545 3.3.11): backslash, semicolon, comma and line break escaped, nothing else.

    >>> escape_text("a,b;c\\d\ne")
    'a\\,b\\;c\\\\d\\ne'
    """
    return text.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\n", "\\n")


def fold_line(line: str) -> bytes:
    """One content line as octets with CRLF, folded at 75 octets, never inside a UTF-8 sequence (RFC 5545 3.1)."""
    rest = line.encode()
    pieces = []
    room = LINE_OCTETS
    while len(rest) > room:
        cut = room
        while rest[cut] & 0xC0 == 0x80:
            cut -= 1
        pieces.append(rest[:cut])
        rest = rest[cut:]
        room = LINE_OCTETS - 1  # the space that opens a continuation counts
    pieces.append(rest)
    return b"\r\n ".join(pieces) + b"\r\n"


def duration_text(length: timedelta) -> str:
    """A DURATION value (RFC 5545 3.3.6) of a positive whole number of seconds.

    >>> duration_text(timedelta(hours=1)), duration_text(timedelta(days=1, minutes=30))
    ('PT1H', 'P1DT30M')

    Raises ValueError for zero, negative or broken seconds.
    """
    if length <= timedelta(0) or length.microseconds:
        raise ValueError(f"duration: {length} is not a positive whole number of seconds")
    hours, seconds = divmod(length.seconds, 3600)
    minutes, seconds = divmod(seconds, 60)
    day_part = f"{length.days}D" if length.days else ""
    clock = "".join(f"{n}{unit}" for n, unit in ((hours, "H"), (minutes, "M"), (seconds, "S")) if n)
    # The grammar has no "hours, then seconds" without the minutes between them.
    if hours and seconds and not minutes:
        clock = f"{hours}H0M{seconds}S"
    return f"P{day_part}" + (f"T{clock}" if clock else "")


def absolute_url(field: str, value: str) -> str:
    """``value`` if it is an absolute http or https address in plain ASCII, else ValueError naming ``field``."""
    if len(value) > URL_CHARACTERS:
        raise ValueError(f"{field}: {len(value)} characters, the limit is {URL_CHARACTERS}")
    if not _URL_TEXT.fullmatch(value):
        raise ValueError(f"{field}: {value!r} holds a space, a control or a non-ASCII character; percent-encode it")
    parts = urlsplit(value)
    if parts.scheme not in ("http", "https") or not parts.hostname:
        raise ValueError(f"{field}: {value!r} is not an absolute http or https address")
    return value
