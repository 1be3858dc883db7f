"""Rows C01 to C11: the VCALENDAR itself."""

import re
from collections.abc import Iterator
from datetime import timedelta
from email.message import Message
from urllib.parse import urlsplit

from tinycss2.color3 import RGBA, parse_color

from tests.feedcheck.feed import Feed, duration, row


def media_parameters(value: str) -> tuple[str, dict[str, str]]:
    """Media type in lower case and its parameters."""
    message = Message()
    message["Content-Type"] = value
    pairs = message.get_params(failobj=[], unquote=True)
    return message.get_content_type(), {name.lower(): text for name, text in pairs[1:]}


def is_absolute(value: str) -> bool:
    parts = urlsplit(value)
    return bool(re.fullmatch(r"[\x21-\x7e]+", value)) and parts.scheme in ("http", "https") and bool(parts.hostname)


@row("C01")
def one_prodid(feed: Feed) -> Iterator[str]:
    found = feed.calendar.all("PRODID")
    if len(found) != 1 or not found[0].value:
        yield f"{len(found)} PRODID"


@row("C02")
def version_is_2(feed: Feed) -> Iterator[str]:
    found = [line.value for line in feed.calendar.all("VERSION")]
    if found != ["2.0"]:
        yield f"VERSION {found}"


@row("C03")
def has_a_component(feed: Feed) -> Iterator[str]:
    if not feed.calendar.children:
        yield "no component"


@row("C04")
def no_method(feed: Feed) -> Iterator[str]:
    found = [line.value.upper() for line in feed.calendar.all("METHOD")]
    stated = media_parameters(feed.media_type)[1].get("method", "").upper() if feed.media_type else None
    if not found:
        if stated:
            yield f"the media type says method={stated}, the body has none"
        return
    if found != ["PUBLISH"]:
        yield f"METHOD {found}"
    if stated != "PUBLISH":
        yield "METHOD without method= in the media type"
    if not all(event.one("ORGANIZER") for event in feed.events):
        yield "PUBLISH without ORGANIZER"


@row("C05")
def has_both_names(feed: Feed) -> Iterator[str]:
    names = [feed.calendar.value("NAME"), feed.calendar.value("X-WR-CALNAME")]
    if not names[0] or names[0] != names[1]:
        yield f"NAME and X-WR-CALNAME are {names}"


@row("C06")
def refresh_is_positive(feed: Feed) -> Iterator[str]:
    line = feed.calendar.one("REFRESH-INTERVAL")
    if line is None:
        return
    length = duration(line.value)
    if line.params.get("VALUE", "").upper() != "DURATION" or length is None or length <= timedelta(0):
        yield f"REFRESH-INTERVAL {line.params} {line.value}"
    older = feed.calendar.one("X-PUBLISHED-TTL")
    if older is not None and duration(older.value) != length:
        yield f"X-PUBLISHED-TTL {older.value} is not {line.value}"


@row("C07")
def colour_is_a_css_name(feed: Feed) -> Iterator[str]:
    for component in feed.calendar.walk():
        for line in component.all("COLOR"):
            is_name = line.value.isalpha() and line.value.lower() not in ("transparent", "currentcolor")
            if not is_name or not isinstance(parse_color(line.value), RGBA):
                yield f"COLOR {line.value}"


@row("C08")
def addresses_are_absolute(feed: Feed) -> Iterator[str]:
    for name in ("URL", "SOURCE", "IMAGE"):
        for line in feed.calendar.all(name):
            if not is_absolute(line.value):
                yield f"{name} {line.value}"
            if name != "URL" and line.params.get("VALUE", "").upper() != "URI":
                yield f"{name} without VALUE=URI"


@row("C09")
def refresh_is_stated(feed: Feed) -> Iterator[str]:
    if len(feed.calendar.all("REFRESH-INTERVAL")) != 1:
        yield "no REFRESH-INTERVAL, or more than one"


@row("C10")
def calendar_has_no_uid(feed: Feed) -> Iterator[str]:
    if feed.calendar.all("UID"):
        yield "UID on VCALENDAR"


@row("C11")
def feed_is_small(feed: Feed) -> Iterator[str]:
    if len(feed.events) > 1000:
        yield f"{len(feed.events)} events"
    if len(feed.body) > 1_000_000:
        yield f"{len(feed.body)} octets"
