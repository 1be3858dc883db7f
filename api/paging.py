"""Cursor paging by key: stable while rows come and go, one query a page, no count."""

import base64
import binascii
import json
from typing import Any

from django.core.exceptions import ValidationError as FieldError
from django.db.models import Q
from rest_framework import exceptions
from rest_framework.pagination import BasePagination
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import replace_query_param

LARGEST = 2**63 - 1


class CursorByKey(BasePagination):
    """`?cursor=` as given in `next`, `?page_size=` 1 to 200. The view's `keys` order the list, unique together.

    The last key must be `id`; none may be null. `newest_first` turns the order round.
    """

    page_size = 50
    most = 200
    parameters = ("cursor", "page_size")

    def paginate_queryset(self, queryset: Any, request: Request, view: Any = None) -> list[Any]:
        self.request, self.keys, down = request, tuple(view.keys), bool(view.newest_first)
        size = self._size(request)
        cursor = request.query_params.get("cursor")
        if cursor is not None:
            queryset = queryset.filter(_after(self.keys, _read(cursor, self.keys, queryset.model), down))
        order = [f"-{key}" if down else key for key in self.keys]
        rows = list(queryset.order_by(*order)[: size + 1])
        self.last = rows[size - 1] if len(rows) > size else None
        return rows[:size]

    def get_paginated_response(self, data: Any) -> Response:
        after = None
        if self.last is not None:
            place = _write([getattr(self.last, key) for key in self.keys])
            after = replace_query_param(self.request.build_absolute_uri(), "cursor", place)
        return Response({"next": after, "results": data})

    def _size(self, request: Request) -> int:
        given = request.query_params.get("page_size")
        if given is None:
            return self.page_size
        if given.isascii() and given.isdecimal() and len(given) < 9 and 1 <= int(given) <= self.most:
            return int(given)
        words = f"page_size is {given[:20]!r}: give a whole number from 1 to {self.most}."
        raise exceptions.ValidationError({"page_size": [words]})

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        return {
            "type": "object",
            "required": ["next", "results"],
            "properties": {
                "next": {
                    "type": ["string", "null"],
                    "format": "uri",
                    "description": "Address of the next page; null at the end.",
                },
                "results": schema,
            },
        }

    def get_schema_operation_parameters(self, view: Any) -> list[dict[str, Any]]:
        return [
            {
                "name": "cursor",
                "in": "query",
                "required": False,
                "description": "Where to go on, as given in `next`.",
                "schema": {"type": "string", "maxLength": 400},
            },
            {
                "name": "page_size",
                "in": "query",
                "required": False,
                "description": "Rows a page.",
                "schema": {"type": "integer", "minimum": 1, "maximum": self.most, "default": self.page_size},
            },
        ]


def _write(values: list[Any]) -> str:
    text = json.dumps([value if isinstance(value, int) else str(value) for value in values])
    return base64.urlsafe_b64encode(text.encode()).decode().rstrip("=")


def _read(cursor: str, keys: tuple[str, ...], model: Any) -> list[Any]:
    try:
        text = base64.b64decode(cursor[:400] + "=" * (-len(cursor) % 4), altchars=b"-_", validate=True)
        values = json.loads(text)
        if not isinstance(values, list) or len(values) != len(keys):
            raise ValueError("other keys")
        found = [model._meta.get_field(key).to_python(value) for key, value in zip(keys, values, strict=True)]
        if any(value is None or (isinstance(value, int) and abs(value) > LARGEST) for value in found):
            raise ValueError("no key")
        if any(isinstance(value, str) and "\x00" in value for value in found):
            raise ValueError("no text")
    except (ValueError, TypeError, RecursionError, binascii.Error, FieldError):
        raise exceptions.ValidationError({"cursor": ["This cursor is not one of ours: begin without it."]}) from None
    return found


def _after(keys: tuple[str, ...], values: list[Any], down: bool) -> Q:
    """Rows after `values` in the order of `keys`: (a > x) or (a = x and b > y) ..."""
    step = "lt" if down else "gt"
    beyond = Q()
    for number, key in enumerate(keys):
        same = dict(zip(keys[:number], values[:number], strict=True))
        beyond |= Q(**same, **{f"{key}__{step}": values[number]})
    return beyond
