"""The company's settings, the history, and the search."""

import re
from datetime import time
from typing import Any

import django_filters
from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import exceptions, serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters
from api.auth import act_of
from api.fields import LOCAL_TIME
from api.scoped import Listed, Noun, Private
from api.strict import Shown
from api.v1.properties import PropertyShown
from core import company, limits
from core.models import History
from jobs import field_checks
from jobs.models import Property
from jobs.read import history, search, visible

SETTINGS = {"$ref": "#/components/schemas/Settings"}


class Settings(Private):
    """The company's settings: every version is kept."""

    http_method_names = ["get", "patch", "head"]

    @extend_schema(operation_id="settings_retrieve", responses={200: SETTINGS})
    def get(self, request: Request) -> Response:
        """Settings in force now."""
        return Response(company.at(act_of(request).at).model_dump(mode="json"))

    @extend_schema(
        operation_id="settings_partial_update",
        request={"application/json": {"$ref": "#/components/schemas/SettingsChange"}},
        responses={200: SETTINGS},
    )
    def patch(self, request: Request) -> Response:
        """Change some settings from now on."""
        given = _settings(request.data)
        return Response(company.change(act=act_of(request), **given).model_dump(mode="json"))


def _settings(given: Any) -> dict[str, Any]:
    """Known names only, texts of bounded length, a zone that exists."""
    if not isinstance(given, dict):
        raise exceptions.ValidationError({"": ["Give a JSON object."]})
    line = field_checks.line(limits.LINE)
    checks: dict[str, field_checks.Check] = {
        name: _local_time if info.annotation is time else line if isinstance(given.get(name), str) else _as_it_is
        for name, info in company.Company.model_fields.items()
    }
    return field_checks.cleaned("company", {**checks, "zone": field_checks.zone}, given)


def _local_time(name: str, value: Any) -> str:
    if not isinstance(value, str) or not re.fullmatch(LOCAL_TIME, value):
        raise field_checks.Refused(f"{name} is {field_checks.shown(value)!r}: give a time of day (HH:MM).")
    return value


def _as_it_is(name: str, value: Any) -> Any:
    return value


class HistoryShown(Shown):
    """One change of one thing: who, when, by which door, before and after of the changed fields."""

    act = serializers.UUIDField(source="act_id")
    at = serializers.DateTimeField()
    who = serializers.CharField()
    who_name = serializers.CharField()
    via = serializers.CharField()
    noun = serializers.CharField()
    object = serializers.UUIDField(source="object_uid")
    property = serializers.UUIDField(source="property_uid", allow_null=True)
    action = serializers.CharField()
    changes = serializers.DictField()
    note = serializers.CharField()


class HistoryFilter(django_filters.FilterSet):
    object = filters.Uid(field_name="object_uid")
    property = filters.Uid(field_name="property_uid")
    act = filters.Uid(field_name="act_id")
    noun = filters.Text(30, field_name="noun")
    action = filters.Text(30, field_name="action")
    who = filters.Text(60, field_name="who")
    since = filters.Moment("at", "gte")
    until = filters.Moment("at", "lt")


class HistoryEntries(Listed, Noun):
    """The history, newest first; nothing in it is ever changed."""

    model = History
    visible_to = staticmethod(history.entries)
    newest_first = True
    serializer_class = HistoryShown
    filterset_class = HistoryFilter


class SearchFilter(django_filters.FilterSet):
    q = filters.Text(search.LONGEST, method="filter_words", required=True, label="Words, all of which must match.")

    def filter_words(self, rows: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        """Properties where every word matches somewhere."""
        return rows.filter(pk__in=search.matching(act_of(self.request), value).values("pk"))


class Search(Listed, Noun):
    """Properties found by address, name, tag or phone."""

    model = Property
    visible_to = staticmethod(visible.properties)
    related = ("area",)
    keys = ("address", "id")
    serializer_class = PropertyShown
    filterset_class = SearchFilter
