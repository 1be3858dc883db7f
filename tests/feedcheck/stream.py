"""Rows F01 to F09: the stream of octets and the lines in it."""

import re
from collections.abc import Iterator

from tests.feedcheck.feed import Feed, row, uid_of
from tests.feedcheck.lines import parse_line, physical_lines

TEXT_PROPERTIES = {
    *("NAME", "X-WR-CALNAME", "SUMMARY", "DESCRIPTION", "LOCATION", "COMMENT", "CONTACT", "CATEGORIES", "RESOURCES"),
    *("PRODID", "TZNAME", "STATUS", "TRANSP", "CLASS", "UID"),
}
LIST_PROPERTIES = {"CATEGORIES", "RESOURCES"}
KNOWN_COMPONENTS = {
    "VCALENDAR",
    "VEVENT",
    "VTIMEZONE",
    "STANDARD",
    "DAYLIGHT",
    "VALARM",
    "VTODO",
    "VJOURNAL",
    "VFREEBUSY",
}


@row("F01")
def lines_end_in_crlf(feed: Feed) -> Iterator[str]:
    if re.search(rb"(?<!\r)\n|\r(?!\n)", feed.body):
        yield "a bare LF or CR"
    if not feed.body.endswith(b"\r\n"):
        yield "the last line has no CRLF"


@row("F02")
def lines_are_short(feed: Feed) -> Iterator[str]:
    yield from (f"{len(line)} octets: {line[:30]!r}" for line in physical_lines(feed.body) if len(line) > 75)


@row("F03")
def stream_is_utf8(feed: Feed) -> Iterator[str]:
    # Folds may legally fall inside a character (F04 asks for better), so they are taken out first.
    try:
        feed.body.replace(b"\r\n ", b"").decode()
    except UnicodeDecodeError as error:
        yield str(error)


@row("F04")
def folds_keep_characters_whole(feed: Feed) -> Iterator[str]:
    for line in physical_lines(feed.body):
        if line[:1] in (b" ", b"\t") and len(line) > 1 and line[1] & 0xC0 == 0x80:
            yield f"a continuation opens inside a character: {line[:20]!r}"


@row("F05")
def no_control_characters(feed: Feed) -> Iterator[str]:
    if found := re.search(rb"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]", feed.body):
        yield f"octet {found[0]!r} at {found.start()}"


@row("F06")
def nothing_around(feed: Feed) -> Iterator[str]:
    if not feed.body.startswith(b"BEGIN:VCALENDAR"):
        yield f"opens with {feed.body[:20]!r}"
    if not feed.body.rstrip(b"\r\n").endswith(b"END:VCALENDAR"):
        yield f"ends with {feed.body[-20:]!r}"
    if any(not line.strip() for line in physical_lines(feed.body)[:-1]):
        yield "a blank line"
    if len(feed.root.kind("VCALENDAR")) > 1:
        yield "more than one VCALENDAR"


@row("F07")
def components_are_balanced(feed: Feed) -> Iterator[str]:
    yield from feed.unbalanced
    for component in feed.root.walk():
        if component.name and component.name not in KNOWN_COMPONENTS and not component.name.startswith("X-"):
            yield f"unknown component {component.name}"


@row("F08")
def lines_are_content_lines(feed: Feed) -> Iterator[str]:
    yield from (f"not a content line: {text[:40]!r}" for text in feed.lines if parse_line(text) is None)


@row("F09")
def texts_are_escaped(feed: Feed) -> Iterator[str]:
    for component in feed.root.walk():
        for line in component.lines:
            if line.name not in TEXT_PROPERTIES:
                continue
            rest = re.sub(r"\\[\\;,nN]", "", line.value)
            bare = r"[\\;]" if line.name in LIST_PROPERTIES else r"[\\;,]"
            if found := re.search(bare, rest):
                yield f"{uid_of(component)} {line.name}: unescaped {found[0]!r}"
