"""Filters of lists, answered by the database. An unknown filter is refused, so that a typing error hides nothing."""

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

import django_filters
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db.models import QuerySet
from django_filters.rest_framework import DjangoFilterBackend
from drf_spectacular.contrib.django_filters import DjangoFilterExtension
from drf_spectacular.utils import extend_schema_field
from rest_framework import exceptions
from rest_framework.request import Request

from api.fields import FIRST_DAY, FIRST_MOMENT, LAST_DAY, LAST_MOMENT
from api.paging import CursorByKey


class StrictFilters(DjangoFilterBackend):
    """django-filter, with unknown parameters refused by name."""

    def filter_queryset(self, request: Request, queryset: QuerySet[Any], view: Any) -> QuerySet[Any]:
        found = self.get_filterset_class(view, queryset)
        taken = [*(found.base_filters if found else ()), *CursorByKey.parameters]
        unknown = [name for name in request.query_params if name not in taken]
        if unknown:
            words = f"is not a filter here: use {', '.join(taken)}."
            raise exceptions.ValidationError({name[:60]: [f"{name[:60]} {words}"] for name in unknown[:20]})
        rows: QuerySet[Any] = super().filter_queryset(request, queryset, view)
        return rows


class _StrictFiltersSchema(DjangoFilterExtension):
    target_class = "api.filters.StrictFilters"
    match_subclasses = False
    priority = 1


class Uid(django_filters.UUIDFilter):
    """The uid of a record, here or one step away."""


class Word(django_filters.ChoiceFilter):
    """One of the codes."""

    def __init__(self, choices: Iterable[Any], **options: Any) -> None:
        pairs = [item if isinstance(item, tuple) else (item, item) for item in choices]
        super().__init__(choices=pairs, **options)


@extend_schema_field(bool)
class YesNo(django_filters.TypedChoiceFilter):
    """true or false."""

    def __init__(self, **options: Any) -> None:
        super().__init__(choices=[("true", "true"), ("false", "false")], coerce=lambda text: text == "true", **options)


class Empty(YesNo):
    """true: the column holds nothing; false: it holds something. With `exclude` the other way round."""

    def filter(self, rows: QuerySet[Any], value: Any) -> QuerySet[Any]:
        if value in (None, ""):
            return rows
        return rows.filter(**{f"{self.field_name}__isnull": value != self.exclude})


class Day(django_filters.DateFilter):
    """A calendar day within the years we know."""

    def __init__(self, field_name: str, lookup_expr: str = "exact", **options: Any) -> None:
        super().__init__(field_name, lookup_expr, validators=_between(FIRST_DAY, LAST_DAY), **options)


class Moment(django_filters.IsoDateTimeFilter):
    """An instant with its zone."""

    def __init__(self, field_name: str, lookup_expr: str = "exact", **options: Any) -> None:
        super().__init__(field_name, lookup_expr, validators=_between(FIRST_MOMENT, LAST_MOMENT), **options)


class Text(django_filters.CharFilter):
    """Exactly this text."""

    def __init__(self, limit: int = 120, **options: Any) -> None:
        super().__init__(max_length=limit, **options)


def _between(low: date | datetime, high: date | datetime) -> list[Any]:
    return [MinValueValidator(low), MaxValueValidator(high)]
