"""The route sheet of a day."""

from datetime import date

from django.http import Http404
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import exceptions, serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api import selectors
from api.auth import act_of
from api.fields import LocalTime, Ref
from api.scoped import Private
from api.strict import Strict
from core.models import User
from maintenance.read.route_sheet import Stop, route_sheet


class SheetWanted(Strict):
    """Whose sheet; one's own where left out."""

    technician = Ref(selectors.technicians)


class SheetHazard(serializers.Serializer):
    """Something not to hit."""

    uid = serializers.UUIDField()
    kind = serializers.CharField()
    kind_words = serializers.CharField()
    note = serializers.CharField()
    x_ft = serializers.FloatField(allow_null=True)
    y_ft = serializers.FloatField(allow_null=True)
    depth_in = serializers.FloatField(allow_null=True)


class SheetTask(serializers.Serializer):
    """One task at one part."""

    uid = serializers.UUIDField()
    task = serializers.CharField()
    words = serializers.CharField()
    component = serializers.UUIDField(source="component_uid")
    tag = serializers.CharField()
    kind = serializers.CharField()
    kind_words = serializers.CharField()
    part_name = serializers.CharField()
    minutes = serializers.IntegerField()
    latest_on = serializers.DateField(allow_null=True)
    outcome = serializers.CharField()


class LastVisit(serializers.Serializer):
    """What was found the time before."""

    on = serializers.DateTimeField(allow_null=True)
    by = serializers.CharField()
    lines = serializers.ListField(child=serializers.CharField())
    note = serializers.CharField()


class StopShown(serializers.Serializer):
    """One visit on the sheet; hazards come first. A gate code is asked for under the visit."""

    number = serializers.IntegerField()
    visit = serializers.UUIDField(source="visit_uid")
    state = serializers.CharField()
    local_start = LocalTime(read_only=True)
    span_minutes = serializers.IntegerField(allow_null=True)
    minutes = serializers.IntegerField()
    cover = serializers.CharField()
    hazards = SheetHazard(many=True)
    property = serializers.UUIDField(source="property_uid")
    address = serializers.CharField()
    city = serializers.CharField()
    lat = serializers.FloatField(allow_null=True)
    lon = serializers.FloatField(allow_null=True)
    access_note = serializers.CharField()
    has_gate_code = serializers.SerializerMethodField()
    corner = serializers.CharField()
    people = serializers.ListField(child=serializers.CharField())
    tasks = SheetTask(many=True)
    last_visit = LastVisit(allow_null=True)
    bring = serializers.ListField(child=serializers.CharField())
    note = serializers.CharField()
    customer_note = serializers.CharField()

    def get_has_gate_code(self, stop: Stop) -> bool:
        """Whether a gate code is on record."""
        return bool(stop.gate_code)


class SheetShown(serializers.Serializer):
    """One technician's visits for one day, in driving order."""

    technician = serializers.UUIDField()
    name = serializers.CharField()
    local_date = serializers.DateField()
    stops = StopShown(many=True)


class RouteSheet(Private):
    """The route sheet of one technician and day."""

    http_method_names = ["get", "head"]

    @extend_schema(
        operation_id="route_sheets_retrieve",
        parameters=[OpenApiParameter("day", OpenApiTypes.DATE, OpenApiParameter.PATH), SheetWanted],
        responses=SheetShown,
    )
    def get(self, request: Request, day: str) -> Response:
        """Visits of a technician on a day in driving order, with what must be known at each."""
        wanted = SheetWanted(data=request.query_params.dict(), context={"request": request})
        wanted.is_valid(raise_exception=True)
        act = act_of(request)
        user: User = wanted.validated_data.get("technician") or request.user  # type: ignore[assignment]
        on = _day(day)
        sheet = {
            "technician": user.uid,
            "name": user.display_name,
            "local_date": on,
            "stops": route_sheet(act, user, on),
        }
        answer = Response(SheetShown(sheet).data)
        answer["Cache-Control"] = "no-store"
        return answer


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        if len(text) > 20:
            raise Http404 from None
        raise exceptions.ValidationError({"day": [f"day is {text!r}: give a date, YYYY-MM-DD."]}) from None
