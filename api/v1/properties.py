"""Properties."""

from typing import Any

import django_filters
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters
from api.fields import Choice, JsonObject, Moment, Number, Ref, Text, Uid, Whole, YesNo
from api.schema import changes, creates
from api.scoped import Found, Listed, Noun
from api.strict import Shown, Strict
from core import limits
from jobs import register
from jobs.models import Property
from jobs.read import checks, visible

LINKED = ("systems", "components", "connections", "drainage-areas", "hazards", "roles", "jobs", "photos", "visits")


class PropertyFields(Strict):
    """What may be changed of a property. `gate_code` is taken, never shown here."""

    address = Text(limits.ADDRESS, required=True)
    city = Text(80)
    region = Text(40)
    postcode = Text(20)
    zone = Text(50, help_text="IANA time zone; the company's where left out.")
    lat = Number(-90, 90, "degrees")
    lon = Number(-180, 180, "degrees")
    area = Ref(visible.areas)
    access_note = Text(limits.NOTE)
    gate_code = Text(40, write_only=True)
    notice_only = YesNo(help_text="May be entered with notice only.")
    consequence = Choice(Property.Consequence.values)
    canopy = Choice(Property.Canopy.values)
    corner = Text(80, help_text="The corner of the house positions are measured from.")
    plan = JsonObject()
    note = Text(limits.NOTE)
    closed_at = Moment()


class PropertyGiven(PropertyFields):
    """A new property."""

    uid = Uid()


class PropertyShown(Shown, PropertyFields):
    """One address. `revision` rises with every write to anything there."""

    uid = Uid()
    revision = Whole()
    created_at = Moment()
    has_gate_code = serializers.SerializerMethodField()
    links = serializers.SerializerMethodField()

    @extend_schema_field(bool)
    def get_has_gate_code(self, row: Property) -> bool:
        """Whether a gate code is on record; it is shown to those on a visit alone."""
        return bool(row.gate_code)

    @extend_schema_field({"type": "object", "additionalProperties": {"type": "string"}})
    def get_links(self, row: Property) -> dict[str, str]:
        """Lists of what is there."""
        return {name: f"/api/v1/{name}/?property={row.uid}" for name in LINKED}


class ProblemShown(serializers.Serializer):
    """What the checks of the register found: `severity` error or warning, `message` says what to do."""

    code = serializers.CharField()
    severity = serializers.CharField()
    message = serializers.CharField()
    tags = serializers.ListField(child=serializers.CharField())
    components = serializers.ListField(child=serializers.UUIDField(), source="ids")


class PropertyFilter(django_filters.FilterSet):
    area = filters.Uid(field_name="area__uid")
    customer = filters.Uid(field_name="roles__customer__uid", distinct=True)
    postcode = filters.Text(20, field_name="postcode")
    closed = filters.Empty(field_name="closed_at", exclude=True, label="Properties no longer served.")
    notice_only = filters.YesNo(field_name="notice_only")


class Properties(Listed, Found, Noun):
    """Properties: one address each, with its access notes and what is there."""

    model = Property
    visible_to = staticmethod(visible.properties)
    noun = "property"
    related = ("area",)
    serializer_class = PropertyShown
    filterset_class = PropertyFilter

    @creates(PropertyGiven, PropertyShown)
    def create(self, request: Request) -> Response:
        """Record a property."""
        return self.made(register.create_property, self.given(PropertyGiven))

    @changes(PropertyFields, PropertyShown)
    def partial_update(self, request: Request, uid: str) -> Response:
        """Change some fields of a property."""
        return self.changed(register.change_property, PropertyFields)

    @extend_schema(responses=ProblemShown(many=True), filters=False)
    @action(detail=True, methods=["get"], pagination_class=None)
    def problems(self, request: Request, uid: str) -> Response:
        """What the checks find about everything in the ground there, errors first."""
        found: Any = checks.problems(self.one())
        return Response(ProblemShown(found, many=True).data)
