"""Values as JSON carries them. Types are taken as they are written, and each refusal names field, value and limit."""

import math
import re
from collections.abc import Callable, Iterable
from datetime import UTC, date, datetime
from typing import Any
from uuid import UUID

from django.db.models import Model, QuerySet
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.fields import empty

from api.auth import act_of
from core.act import Act
from jobs import field_checks

LOCAL_TIME = r"^([01][0-9]|2[0-3]):[0-5][0-9](:[0-5][0-9])?$"
FIRST_DAY, LAST_DAY = date(1900, 1, 1), date(2200, 12, 31)
FIRST_MOMENT, LAST_MOMENT = datetime(1970, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC)

Selector = Callable[[Act], QuerySet[Any]]


class _Says:
    """Refuses with one message: what was given, and what to give (`expects`)."""

    expects = ""
    takes: tuple[type, ...] = (str,)

    def run_validation(self, data: Any = empty) -> Any:
        if data is not empty and data is not None and not self._is_taken(data):
            raise serializers.ValidationError(self._told(data))
        try:
            return super().run_validation(data)  # type: ignore[misc]
        except (serializers.ValidationError, OverflowError):
            raise serializers.ValidationError(self._told(data)) from None

    def _is_taken(self, data: Any) -> bool:
        return isinstance(data, self.takes) and (bool in self.takes or not isinstance(data, bool))

    def _told(self, data: Any) -> str:
        name = getattr(self, "field_name", "") or "value"
        if data is empty:
            return f"{name} is missing: give {self.expects}."
        if isinstance(data, str) and len(data) > 60:
            return f"{name} has {len(data)} characters: give {self.expects}."
        return f"{name} is {field_checks.shown(data)!r}: give {self.expects}."


def _optional(options: dict[str, Any], *, null: bool) -> dict[str, Any]:
    """A field is optional unless `required`; what is optional may be null where null says "unknown"."""
    if options.get("read_only"):
        return {"allow_null": null, **options}
    required = options.setdefault("required", False)
    return {"allow_null": null and not required, **options}


class Text(_Says, serializers.CharField):
    """Text of at most `limit` characters, as given."""

    def __init__(self, limit: int, **options: Any) -> None:
        required = options.get("required", False)
        self.expects = f"text of {1 if required else 0} to {limit} characters"
        options.setdefault("allow_blank", not required)
        super().__init__(max_length=limit, trim_whitespace=False, **_optional(options, null=False))


class Number(_Says, serializers.FloatField):
    """A finite number from `low` to `high` in `unit`."""

    takes = (int, float)

    def __init__(self, low: float | None = None, high: float | None = None, unit: str = "", **options: Any) -> None:
        self.expects = f"a number from {low:g} to {high:g} {unit}".rstrip() if low is not None else "a number"
        options.setdefault("help_text", f"In {unit}." if unit else "")
        super().__init__(min_value=low, max_value=high, **_optional(options, null=True))

    def to_internal_value(self, data: Any) -> float:
        value: float = super().to_internal_value(data)
        if not math.isfinite(value):
            self.fail("invalid")
        return value


class Whole(_Says, serializers.IntegerField):
    """A whole number from `low` to `high` in `unit`."""

    takes = (int,)

    def __init__(self, low: int = 0, high: int = 2_147_483_647, unit: str = "", **options: Any) -> None:
        self.expects = f"a whole number from {low} to {high} {unit}".rstrip()
        options.setdefault("help_text", f"In {unit}." if unit else "")
        super().__init__(min_value=low, max_value=high, **_optional(options, null=True))


class YesNo(_Says, serializers.BooleanField):
    """true or false."""

    expects = "true or false"
    takes = (bool,)

    def __init__(self, **options: Any) -> None:
        super().__init__(**_optional(options, null=False))


class Choice(_Says, serializers.ChoiceField):
    """One of the codes; with `allow_blank` also nothing at all."""

    def __init__(self, choices: Iterable[Any], **options: Any) -> None:
        super().__init__(choices=tuple(choices), **_optional(options, null=False))
        self.expects = f"one of {', '.join(map(str, self.choices))}"


class Day(_Says, serializers.DateField):
    """A calendar day, YYYY-MM-DD."""

    expects = f"a date (YYYY-MM-DD) from {FIRST_DAY} to {LAST_DAY}"

    def __init__(self, **options: Any) -> None:
        super().__init__(**_optional(options, null=True))

    def to_internal_value(self, data: Any) -> date:
        value: date = super().to_internal_value(data)
        if not FIRST_DAY <= value <= LAST_DAY:
            self.fail("invalid", format="YYYY-MM-DD")
        return value


@extend_schema_field({"type": "string", "pattern": LOCAL_TIME})
class LocalTime(_Says, serializers.TimeField):
    """A time of day at the property, HH:MM or HH:MM:SS; a zone would be another thing and is refused."""

    expects = "a time of day (HH:MM)"

    def __init__(self, **options: Any) -> None:
        super().__init__(**_optional(options, null=True))

    def to_internal_value(self, data: Any) -> Any:
        if not re.fullmatch(LOCAL_TIME, data, re.ASCII):
            self.fail("invalid", format="HH:MM")
        return super().to_internal_value(data)


class Moment(_Says, serializers.DateTimeField):
    """An instant with its zone, such as 2026-05-04T13:00:00Z."""

    expects = "a date and time with its zone, such as 2026-05-04T13:00:00Z"

    def __init__(self, **options: Any) -> None:
        super().__init__(default_timezone=UTC, **_optional(options, null=True))

    def enforce_timezone(self, value: datetime) -> datetime:
        if value.tzinfo is None or not FIRST_MOMENT <= value <= LAST_MOMENT:
            self.fail("invalid", format="ISO 8601 with a zone")
        return value.astimezone(UTC)


class Uid(_Says, serializers.UUIDField):
    """The id of a record; a client may make it."""

    expects = "a UUID"

    def __init__(self, **options: Any) -> None:
        super().__init__(**_optional(options, null=False))


class JsonObject(_Says, serializers.JSONField):
    """A JSON object."""

    expects = "a JSON object"
    takes = (dict,)

    def __init__(self, **options: Any) -> None:
        super().__init__(**_optional(options, null=False))


class JsonList(_Says, serializers.JSONField):
    """A JSON list."""

    expects = "a JSON list"
    takes = (list,)

    def __init__(self, **options: Any) -> None:
        super().__init__(**_optional(options, null=False))


@extend_schema_field(OpenApiTypes.UUID)
class Ref(_Says, serializers.Field):
    """Another record by its uid, looked up only among those the asking person may see."""

    def __init__(self, visible_to: Selector, **options: Any) -> None:
        self.visible_to = visible_to
        super().__init__(**_optional(options, null=True))
        self.expects = "the uid of a record you may see"

    def to_internal_value(self, data: str) -> Model:
        try:
            uid = UUID(data)
        except ValueError:
            raise serializers.ValidationError("no uid") from None
        row: Model | None = self.visible_to(act_of(self.context["request"])).filter(uid=uid).first()
        if row is None:
            raise serializers.ValidationError("not found")
        return row

    def to_representation(self, value: Any) -> str:
        return str(value.uid)


@extend_schema_field({"type": "array", "items": {"type": "string", "format": "uuid"}, "maxItems": 200})
class Refs(_Says, serializers.Field):
    """Several other records by their uids, in one query."""

    takes = (list,)
    MOST = 200

    def __init__(self, visible_to: Selector, **options: Any) -> None:
        self.visible_to = visible_to
        super().__init__(**_optional(options, null=False))
        self.expects = f"at most {self.MOST} uids of records you may see"

    def to_internal_value(self, data: list[Any]) -> list[Model]:
        try:
            uids = [UUID(item) for item in data]
        except (ValueError, AttributeError, TypeError):
            raise serializers.ValidationError("no uid") from None
        if len(uids) > self.MOST:
            raise serializers.ValidationError("too many")
        rows = {row.uid: row for row in self.visible_to(act_of(self.context["request"])).filter(uid__in=uids)}
        if len(rows) != len(set(uids)):
            raise serializers.ValidationError("not found")
        return [rows[uid] for uid in uids]

    def to_representation(self, value: Any) -> list[str]:
        return [str(row.uid) for row in (value.all() if hasattr(value, "all") else value)]
