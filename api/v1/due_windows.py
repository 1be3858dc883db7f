"""Due windows: what is due and why."""

from typing import Any

import django_filters
from django.db.models import Exists, OuterRef, QuerySet
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from api import filters, selectors
from api.fields import Ref
from api.scoped import Listed, Noun
from jobs.kinds import registry
from jobs.kinds.words import TASKS
from jobs.read import visible
from maintenance.models import DueWindow, VisitTask
from maintenance.read.due import OPEN_STATES
from maintenance.read.due_table import ESTIMATE


class DueWindowShown(serializers.Serializer):
    """One task on one component: earliest useful, best and latest day, with its reason.

    `chance_at_best`: chance of being over the threshold at the best day. `planned`: it stands in an open visit.
    `stale`: being recomputed; `computed_at` and `as_of` say how old it is.
    """

    property = Ref(visible.properties)
    component = Ref(visible.components)
    address = serializers.CharField(source="property.address")
    kind = serializers.CharField(source="component.kind")
    tag = serializers.CharField(source="component.tag")
    task = serializers.CharField()
    task_words = serializers.SerializerMethodField()
    who = serializers.CharField()
    rule_code = serializers.CharField()
    basis = serializers.CharField()
    earliest_on = serializers.DateField()
    best_on = serializers.DateField()
    latest_on = serializers.DateField()
    chance_at_best = serializers.FloatField(allow_null=True)
    threshold = serializers.FloatField(allow_null=True)
    left_fill = serializers.FloatField(allow_null=True)
    rate_p10 = serializers.FloatField(allow_null=True)
    rate_p50 = serializers.FloatField(allow_null=True)
    rate_p90 = serializers.FloatField(allow_null=True)
    minutes = serializers.IntegerField()
    words = serializers.CharField()
    reason = serializers.DictField()
    inputs = serializers.DictField()
    planned = serializers.BooleanField()
    stale = serializers.BooleanField()
    computed_at = serializers.SerializerMethodField()
    as_of = serializers.SerializerMethodField()
    note = serializers.SerializerMethodField()

    def get_task_words(self, row: DueWindow) -> str:
        """The task in words."""
        return TASKS[row.task].words

    @extend_schema_field({"type": ["string", "null"], "format": "date-time"})
    def get_computed_at(self, row: DueWindow) -> str | None:
        """When it was computed."""
        forecast = getattr(row.property, "forecast", None)
        return forecast.computed_at.isoformat() if forecast else None

    @extend_schema_field({"type": ["string", "null"], "format": "date"})
    def get_as_of(self, row: DueWindow) -> str | None:
        """From what was known at the end of this day."""
        forecast = getattr(row.property, "forecast", None)
        return forecast.as_of.isoformat() if forecast else None

    def get_note(self, row: DueWindow) -> str:
        """What an estimate is, and is not."""
        return ESTIMATE


class DueWindowFilter(django_filters.FilterSet):
    property = filters.Uid(field_name="property__uid")
    component = filters.Uid(field_name="component__uid")
    system = filters.Uid(field_name="component__system__uid")
    area = filters.Uid(field_name="property__area__uid")
    technician = filters.Uid(method="filter_technician", label="In an open visit of this technician.")
    kind = filters.Word(registry.CHOICES, field_name="component__kind")
    task = filters.Word([(code, task.words) for code, task in TASKS.items()], field_name="task")
    who = filters.Word(["crew", "owner"], field_name="who")
    basis = filters.Word(["calendar", "season", "silt", "wear", "storm"], field_name="basis")
    best_from = filters.Day("best_on", "gte")
    best_until = filters.Day("best_on", "lte")
    latest_before = filters.Day("latest_on", "lt", label="Overdue on this day.")
    planned = filters.YesNo(field_name="planned")
    stale = filters.YesNo(field_name="stale")

    def filter_technician(self, rows: QuerySet[Any], name: str, value: Any) -> QuerySet[Any]:
        """Windows that stand in an open visit of this technician."""
        tasks = VisitTask.objects.filter(
            component=OuterRef("component"),
            task=OuterRef("task"),
            visit__state__in=OPEN_STATES,
            visit__technicians__user__uid=value,
        )
        return rows.filter(Exists(tasks))


class DueWindows(Listed, Noun):
    """Due windows, the earliest best day first."""

    model = DueWindow
    visible_to = staticmethod(selectors.due_windows)
    keys = ("best_on", "id")
    serializer_class = DueWindowShown
    filterset_class = DueWindowFilter
