"""Rows H01 to H24: the feed over HTTP, against anything that can be asked (a Django test client or a live address)."""

import json
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from urllib.parse import urlsplit
from urllib.robotparser import RobotFileParser

from tests.feedcheck.asking import Answer, Fetch, http_date, tokens
from tests.feedcheck.head import media_parameters

_ETAG = re.compile(r'(?:W/)?"[\x21\x23-\x7e]*"')
_LINK = re.compile(r'<[^<>\s]+>(?:\s*;\s*[\w-]+\*?(?:=(?:"[^"]*"|[^\s";,]+))?)+')
OLD_DATE = "Thu, 01 Jan 2015 00:00:00 GMT"
OTHER_TAG = '"another-tag"'
URL_MAX = 255
IDENTITY = {"Accept_Encoding": "identity"}


@dataclass(frozen=True)
class Site:
    """A feed to be asked: its path, an unknown one, a revoked one if there is one, and the base of its addresses."""

    fetch: Fetch
    path: str
    wrong_path: str
    revoked_path: str | None
    base: str
    now: datetime

    def get(self, **headers: str) -> Answer:
        return self.ask("GET", **{**IDENTITY, **headers})

    def ask(self, method: str, path: str | None = None, **headers: str) -> Answer:
        named = {name.replace("_", "-"): value for name, value in headers.items() if value}
        return self.fetch(method, self.path if path is None else path, named)


HttpRule = Callable[[Site], Iterator[str]]
HTTP_RULES: dict[str, HttpRule] = {}
ANSWER_RULES: dict[str, Callable[[Answer, datetime], Iterator[str]]] = {}


def _row(row_id: str) -> Callable[[HttpRule], HttpRule]:
    def register(rule: HttpRule) -> HttpRule:
        HTTP_RULES[row_id] = rule
        return rule

    return register


def _answer_row(row_id: str) -> Callable[[Any], Any]:
    """A rule about one answer to GET; in a run against a site it is applied to the plain and the compressed one."""

    def register(rule: Callable[[Answer, datetime], Iterator[str]]) -> Any:
        ANSWER_RULES[row_id] = rule

        def both(site: Site) -> Iterator[str]:
            yield from rule(site.get(), site.now)
            yield from rule(site.get(Accept_Encoding="gzip"), site.now)

        HTTP_RULES[row_id] = both
        return rule

    return register


@_answer_row("H01")
def plain_200(answer: Answer, now: datetime) -> Iterator[str]:
    if answer.status != 200 or not answer.content.startswith(b"BEGIN:VCALENDAR"):
        yield f"status {answer.status}, {len(answer.content)} octets"


@_answer_row("H02")
def media_type(answer: Answer, now: datetime) -> Iterator[str]:
    kind, parameters = media_parameters(answer.header("Content-Type"))
    if kind != "text/calendar" or parameters.get("charset", "").lower() != "utf-8":
        yield answer.header("Content-Type")


@_answer_row("H03")
def has_etag(answer: Answer, now: datetime) -> Iterator[str]:
    if not _ETAG.fullmatch(answer.header("ETag")):
        yield f"ETag {answer.header('ETag')!r}"


@_row("H04")
def repeats_itself(site: Site) -> Iterator[str]:
    first, second = site.get(), site.get()
    if first.content != second.content or first.header("ETag") != second.header("ETag"):
        yield "two answers differ"


@_row("H05")
def tag_gives_304(site: Site) -> Iterator[str]:
    tag = site.get().header("ETag")
    bare = tag.removeprefix("W/")
    for form in (tag, f"W/{bare}", f"{OTHER_TAG}, {tag}"):
        if site.get(If_None_Match=form).status != 304:
            yield f"If-None-Match: {form}"


@_row("H06")
def body_of_304(site: Site) -> Iterator[str]:
    full = site.get()
    short = site.get(If_None_Match=full.header("ETag"))
    if short.status != 304:
        return  # H05 says so
    if short.body:
        yield "304 with a body"
    for name in ("ETag", "Cache-Control", "Vary"):
        if short.header(name) != full.header(name):
            yield f"304 without the same {name}"


@_row("H07")
def other_tag_gives_200(site: Site) -> Iterator[str]:
    if site.get(If_None_Match=OTHER_TAG).status != 200:
        yield "another tag did not give 200"


@_answer_row("H08")
def last_modified(answer: Answer, now: datetime) -> Iterator[str]:
    moment = http_date(answer.header("Last-Modified"))
    if moment is None or moment > now:
        yield f"Last-Modified {answer.header('Last-Modified')!r}"


@_row("H09")
def date_gives_304(site: Site) -> Iterator[str]:
    if site.get(If_Modified_Since=site.get().header("Last-Modified")).status != 304:
        yield "If-Modified-Since of Last-Modified did not give 304"
    if site.get(If_Modified_Since=OLD_DATE).status != 200:
        yield "an old date did not give 200"


@_row("H10")
def tag_wins_over_date(site: Site) -> Iterator[str]:
    full = site.get()
    if site.get(If_None_Match=OTHER_TAG, If_Modified_Since=full.header("Last-Modified")).status != 200:
        yield "the date won over another tag"
    if site.get(If_None_Match=full.header("ETag"), If_Modified_Since=OLD_DATE).status != 304:
        yield "an old date won over the current tag"


@_answer_row("H11")
def not_shared(answer: Answer, now: datetime) -> Iterator[str]:
    found = tokens(answer.header("Cache-Control"))
    if not found & {"private", "no-store"} or found & {"public", "s-maxage"}:
        yield f"Cache-Control {answer.header('Cache-Control')!r}"


@_row("H12")
def head_is_get(site: Site) -> Iterator[str]:
    full, head = site.get(), site.ask("HEAD", **IDENTITY)
    if head.body:
        yield "HEAD with a body"
    if head.status != full.status:
        yield f"HEAD gives {head.status}"
    for name in ("Content-Type", "ETag", "Last-Modified", "Cache-Control"):
        if head.header(name) != full.header(name):
            yield f"HEAD has another {name}"


@_row("H13")
def codings_agree(site: Site) -> Iterator[str]:
    plain = site.get()
    if plain.header("Content-Encoding"):
        yield "identity is not honoured"
    for wish in ("gzip", "gzip;q=0"):
        answer = site.get(Accept_Encoding=wish)
        if wish.endswith("q=0") and answer.header("Content-Encoding"):
            yield "a refused coding was used"
        try:
            same = answer.content == plain.content
        except (OSError, EOFError):  # not gzip at all
            same = False
        if not same:
            yield f"{wish} decodes to other bytes"


@_row("H14")
def varies_by_coding(site: Site) -> Iterator[str]:
    packed, plain = site.get(Accept_Encoding="gzip"), site.get()
    if packed.header("Content-Encoding"):
        for answer in (packed, plain):
            if not tokens(answer.header("Vary")) & {"accept-encoding", "*"}:
                yield f"Vary {answer.header('Vary')!r}"


@_row("H15")
def coded_tag_is_its_own(site: Site) -> Iterator[str]:
    packed, plain = site.get(Accept_Encoding="gzip"), site.get()
    tag = packed.header("ETag")
    if packed.header("Content-Encoding") and tag == plain.header("ETag") and not tag.startswith("W/"):
        yield "one strong tag for two codings"
    if site.get(Accept_Encoding="gzip", If_None_Match=tag).status != 304:
        yield "the tag of the compressed answer is not known again"


@_row("H16")
def any_accept(site: Site) -> Iterator[str]:
    for wish in ("", "text/calendar", "text/*"):
        if site.get(Accept=wish).status != 200:
            yield f"Accept: {wish}"


@_row("H17")
def writing_is_refused(site: Site) -> Iterator[str]:
    before = site.get().content
    for method in ("PUT", "POST", "PROPFIND", "DELETE"):
        answer = site.ask(method)
        if answer.status != 405 or tokens(answer.header("Allow")) != {"get", "head"}:
            yield f"{method}: {answer.status}, Allow {answer.header('Allow')!r}"
    if site.get().content != before:
        yield "a refused method changed the feed"


@_row("H18")
def robots_may_read(site: Site) -> Iterator[str]:
    answer = site.ask("GET", "/robots.txt")
    if answer.status != 200:
        return
    robots = RobotFileParser()
    robots.parse(answer.body.decode("utf-8", "replace").splitlines())
    if not all(robots.can_fetch(agent, site.base + site.path) for agent in ("*", "calendar-importer")):
        yield "robots.txt forbids the feed"


@_row("H19")
def unknown_is_refused(site: Site) -> Iterator[str]:
    if (status := site.ask("GET", site.wrong_path).status) not in (404, 410):
        yield f"an unknown token gives {status}"
    if site.revoked_path and (status := site.ask("GET", site.revoked_path).status) != 410:
        yield f"a revoked token gives {status}"


@_row("H20")
def errors_are_problems(site: Site) -> Iterator[str]:
    for answer in (site.ask("GET", site.wrong_path), site.ask("PUT")):
        try:
            problem = json.loads(answer.content)
        except ValueError:
            problem = {}
        kind = media_parameters(answer.header("Content-Type"))[0]
        if (
            kind != "application/problem+json"
            or not isinstance(problem, dict)
            or problem.get("status") != answer.status
        ):
            yield f"{answer.status}: {kind}"


@_answer_row("H21")
def no_cookie(answer: Answer, now: datetime) -> Iterator[str]:
    if answer.header("Set-Cookie"):
        yield "Set-Cookie"


@_row("H22")
def named_ics(site: Site) -> Iterator[str]:
    named = re.search(r'filename="?[^";]+\.ics"?', site.get().header("Content-Disposition"))
    if not named and not urlsplit(site.path).path.endswith(".ics"):
        yield "no .ics name"


@_answer_row("H23")
def link_is_well_formed(answer: Answer, now: datetime) -> Iterator[str]:
    value = answer.header("Link")
    if value and (re.sub(_LINK, "", value).strip(" ,") or "rel=" not in value):
        yield f"Link {value}"


@_row("H24")
def address_is_short(site: Site) -> Iterator[str]:
    if len(site.base + site.path) > URL_MAX:
        yield f"{len(site.base + site.path)} characters"
