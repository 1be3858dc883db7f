"""Pages of a list, cut in the database: one row more than shown tells whether there is a next page; no count."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.db.models import QuerySet
from django.http import HttpRequest

SIZE = 50
LAST = 10_000


@dataclass(frozen=True, slots=True)
class Page:
    """Rows of one page, and the addresses of its neighbours ("" where there is none)."""

    rows: Sequence[Any]
    number: int
    before: str
    after: str


def page_of(request: HttpRequest, rows: QuerySet[Any], *, size: int = SIZE) -> Page:
    """The page that `?page=` names; nonsense shows the first."""
    given = request.GET.get("page", "1")
    number = min(int(given), LAST) if given.isdecimal() and given.isascii() and int(given) > 0 else 1
    start = (number - 1) * size
    found = list(rows[start : start + size + 1])
    return Page(
        rows=found[:size],
        number=number,
        before=_address(request, number - 1) if number > 1 else "",
        after=_address(request, number + 1) if len(found) > size else "",
    )


def _address(request: HttpRequest, number: int) -> str:
    kept = {name: value for name, value in request.GET.items() if name != "page"}
    return "?" + urlencode({**kept, "page": number})
