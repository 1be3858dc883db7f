"""Systems, and starting layouts that make a whole one."""

from typing import Any

import django_filters
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters
from api.fields import Choice, Day, JsonObject, Moment, Number, Ref, Text, Uid, Whole, YesNo
from api.schema import changes, creates
from api.scoped import Found, Listed, Noun
from api.strict import Shown, Strict
from api.v1.properties import ProblemShown
from core import limits
from jobs import register
from jobs.decide import layouts
from jobs.kinds.words import CERTAINTIES
from jobs.models import System
from jobs.read import checks, visible
from jobs.starting_layouts import apply_layout
from maintenance.models import SystemRating
from maintenance.read import ratings
from maintenance.read.due_table import ESTIMATE


class SystemFields(Strict):
    """What may be changed of a system."""

    name = Text(80, required=True)
    target_return_years = Number(1, 1000, "years")
    installed_on = Day()
    ours = YesNo(help_text="We put it in.")
    warranty_until = Day()
    handed_over_on = Day()
    note = Text(limits.NOTE)


class SystemGiven(SystemFields):
    """A new system."""

    uid = Uid()
    property = Ref(visible.properties, required=True)


class SystemShown(Shown, SystemGiven):
    """One installed drainage system, judged by its own target storm."""

    revision = Whole()
    created_at = Moment()


class LayoutGiven(Strict):
    """A system begun from a starting layout: `numbers` as /starting-layouts/ asks them, usual ones where left out."""

    uid = Uid()
    property = Ref(visible.properties, required=True)
    layout = Choice(layouts.BY_CODE, required=True)
    numbers = JsonObject(required=True)
    system_name = Text(80, required=True)
    certainty = Choice(CERTAINTIES)


class AskShown(serializers.Serializer):
    """One number a layout asks for."""

    name = serializers.CharField()
    label = serializers.CharField()  # type: ignore[assignment]  # the metaclass takes it off the class
    unit = serializers.CharField()
    low = serializers.FloatField()
    high = serializers.FloatField()
    usual = serializers.FloatField()
    whole = serializers.BooleanField()
    help = serializers.CharField()


class LayoutShown(serializers.Serializer):
    """A ready-made set of components and connections."""

    code = serializers.CharField()
    name = serializers.CharField()
    words = serializers.CharField()
    asks = AskShown(many=True)


NOT_YET = "not computed yet: it follows within a minute or two"


class RatingStateShown(serializers.Serializer):
    """The system in one state: share of its target storm, the same as rain, and what limits it."""

    multiple = serializers.FloatField(allow_null=True)
    rain_10min_in_h = serializers.FloatField(allow_null=True)
    rain_60min_in = serializers.FloatField(allow_null=True)
    return_years = serializers.FloatField(allow_null=True)
    beside_table = serializers.CharField()
    limiting = serializers.CharField(allow_null=True)
    limiting_what = serializers.CharField()
    meets_target = serializers.BooleanField()
    message = serializers.CharField()
    checks = serializers.ListField(child=serializers.DictField())


class RatingShown(serializers.Serializer):
    """The stored storm rating of a system. `needs`: why it is not rated; `states` is empty then."""

    system = serializers.UUIDField(source="system.uid")
    target_return_years = serializers.FloatField(source="system.target_return_years")
    as_new = serializers.FloatField(allow_null=True)
    today = serializers.FloatField(allow_null=True)
    today_p10 = serializers.FloatField(allow_null=True)
    today_p90 = serializers.FloatField(allow_null=True)
    cleaned = serializers.FloatField(allow_null=True)
    needs = serializers.ListField(child=serializers.CharField())
    states = serializers.SerializerMethodField()
    pumps = serializers.SerializerMethodField()
    battery = serializers.SerializerMethodField()
    no_power = serializers.SerializerMethodField()
    rain_table = serializers.SerializerMethodField()
    computed_at = serializers.DateTimeField(allow_null=True)
    as_of = serializers.DateField(allow_null=True)
    note = serializers.SerializerMethodField()

    @extend_schema_field(serializers.DictField(child=RatingStateShown()))
    def get_states(self, row: SystemRating) -> dict[str, Any]:
        """As new, today, today at the 10 and 90 % silt, and cleaned."""
        return row.detail.get("states", {})

    def get_pumps(self, row: SystemRating) -> list[dict[str, Any]]:
        """Duty, velocity, starts and time to the limit of each pump line."""
        return row.detail.get("pumps", [])

    def get_battery(self, row: SystemRating) -> float | None:
        """On the backup battery alone."""
        return row.detail.get("battery")

    def get_no_power(self, row: SystemRating) -> float | None:
        """With no pump running."""
        return row.detail.get("no_power")

    def get_rain_table(self, row: SystemRating) -> str:
        """The design rain it is judged by, with its source."""
        return row.detail.get("rain_table", "")

    def get_note(self, row: SystemRating) -> str:
        """What an estimate is, and is not."""
        return ESTIMATE


class SystemFilter(django_filters.FilterSet):
    property = filters.Uid(field_name="property__uid")
    ours = filters.YesNo(field_name="ours")


class Systems(Listed, Found, Noun):
    """Systems."""

    model = System
    visible_to = staticmethod(visible.systems)
    noun = "system"
    related = ("property",)
    serializer_class = SystemShown
    filterset_class = SystemFilter

    @creates(SystemGiven, SystemShown)
    def create(self, request: Request) -> Response:
        """Record a system."""
        return self.made(register.create_system, self.given(SystemGiven))

    @changes(SystemFields, SystemShown)
    def partial_update(self, request: Request, uid: str) -> Response:
        """Change some fields of a system."""
        return self.changed(register.change_system, SystemFields)

    @creates(LayoutGiven, SystemShown)
    @action(detail=False, methods=["post"], url_path="from-layout", url_name="from-layout")
    def from_layout(self, request: Request) -> Response:
        """Begin an as-built: a system with everything a starting layout says."""
        return self.made(apply_layout, self.given(LayoutGiven))

    @extend_schema(responses=ProblemShown(many=True), filters=False)
    @action(detail=True, methods=["get"], pagination_class=None)
    def problems(self, request: Request, uid: str) -> Response:
        """What the checks find about this system, errors first."""
        found: Any = checks.problems_of(self.one())
        return Response(ProblemShown(found, many=True).data)

    @extend_schema(responses=RatingShown, filters=False)
    @action(detail=True, methods=["get"], url_path="storm-rating", url_name="storm-rating", pagination_class=None)
    def storm_rating(self, request: Request, uid: str) -> Response:
        """What it carries as new, today and cleaned, as last computed."""
        system = self.one()
        row = ratings.ratings(self.act).filter(system=system).first()
        return Response(RatingShown(row or SystemRating(system=system, needs=[NOT_YET])).data)
