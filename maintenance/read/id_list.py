"""Long lists of keys as one query parameter: SQLite takes only so many variables in one statement."""

from __future__ import annotations

import json
from collections.abc import Iterable

from django.db import connection
from django.db.models.expressions import RawSQL

_SQLITE = "SELECT value FROM json_each(%s)"
_POSTGRES = "SELECT value::bigint FROM json_array_elements_text(%s::json) AS listed(value)"


def ids_in(ids: Iterable[int]) -> RawSQL:
    """For `filter(x_id__in=ids_in(ids))`: one parameter and one plan, however many keys."""
    text = json.dumps([int(number) for number in ids])
    return RawSQL(_SQLITE if connection.vendor == "sqlite" else _POSTGRES, [text])
