"""What is the same for every company: component kinds and starting layouts. Nothing of anybody's."""

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.v1.systems import LayoutShown
from jobs.decide import layouts
from jobs.kinds import registry
from jobs.kinds.base import Kind
from jobs.kinds.dimensions import json_schema


class _Fixed(APIView):
    http_method_names = ["get", "head"]


class KindShown(serializers.Serializer):
    """A component kind: its dimensions as a JSON schema, its tasks and readings, and what it may be connected to."""

    code = serializers.CharField()
    name = serializers.CharField()
    plain_words = serializers.CharField()
    tag_prefix = serializers.CharField()
    tasks = serializers.ListField(child=serializers.CharField())
    readings = serializers.SerializerMethodField()
    may_feed = serializers.ListField(child=serializers.CharField())
    sits_in = serializers.ListField(child=serializers.CharField())
    part_of = serializers.ListField(child=serializers.CharField())
    dimensions = serializers.SerializerMethodField()

    def get_readings(self, kind: Kind) -> list[str]:
        """Codes of the readings a closeout asks for."""
        return [reading.code for reading in kind.readings]

    def get_dimensions(self, kind: Kind) -> dict[str, Any]:
        """JSON schema (2020-12)."""
        return json_schema(kind)


class Kinds(_Fixed):
    """Component kinds."""

    @extend_schema(operation_id="kinds_list", responses=KindShown(many=True))
    def get(self, request: Request) -> Response:
        """The kinds of components in the order water meets them."""
        return Response(KindShown(registry.ALL, many=True).data)


class StartingLayouts(_Fixed):
    """Starting layouts."""

    @extend_schema(operation_id="starting_layouts_list", responses=LayoutShown(many=True))
    def get(self, request: Request) -> Response:
        """Starting layouts and the numbers each asks for."""
        return Response(LayoutShown(layouts.ALL, many=True).data)
