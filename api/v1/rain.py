"""Rain: gauges, their rows, and the tables systems are judged by."""

from typing import Any, ClassVar

import django_filters
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters, preconditions, selectors
from api.fields import Choice, Moment, Number, Ref, Text, Uid
from api.parsers import RawTable
from api.schema import BYTES, changes, creates
from api.scoped import Found, Listed, Noun
from api.strict import Shown, Strict
from core.problem import BadInput
from jobs import field_checks
from jobs.read import visible
from maintenance import rain_tables
from maintenance.models import Gauge, RainRow, RainTable
from maintenance.rain import RainFileImport, add_gauge, import_file
from maintenance.rain_files import UNITS, RainFileError

MOST_REPORTS = 1000


class GaugeGiven(Strict):
    """A gauge by its name; the company's zone where none is given."""

    name = Text(80, required=True)
    zone = Text(50)
    source = Text(200)  # type: ignore[assignment]  # the metaclass takes it off the class


class GaugeShown(Shown, GaugeGiven):
    """A rain gauge and where its record comes from."""

    uid = Uid()


class ImportWanted(Strict):
    """How to read the file. The unit is never guessed; nothing is written without `apply`."""

    unit = Choice(UNITS, required=True)
    station = Text(80)
    leave_out_bad_rows = Choice(["true", "false"])
    apply = Choice(["true", "false"])


class ReportShown(serializers.Serializer):
    """Something to say about one row; an error keeps it out."""

    row = serializers.IntegerField()
    column = serializers.CharField()
    value = serializers.CharField()
    message = serializers.CharField()
    error = serializers.BooleanField()


class ImportShown(serializers.Serializer):
    """What a file held and what became of it. `reports` are the first 1,000 of `reports_in_all`."""

    layout = serializers.CharField(source="read.layout")
    rows = serializers.IntegerField(source="read.rows")
    gap_days = serializers.IntegerField(source="read.gap_days")
    new = serializers.IntegerField(source="result.new")
    corrected = serializers.IntegerField(source="result.corrected")
    same = serializers.IntegerField(source="result.same")
    applied = serializers.BooleanField()
    refused = serializers.BooleanField()
    reports_in_all = serializers.SerializerMethodField()
    reports = serializers.SerializerMethodField()

    def get_reports_in_all(self, found: RainFileImport) -> int:
        """How many there are."""
        return len(found.read.reports)

    @extend_schema_field(ReportShown(many=True))
    def get_reports(self, found: RainFileImport) -> list[dict[str, Any]]:
        """Row by row."""
        return list(ReportShown(found.read.reports[:MOST_REPORTS], many=True).data)


class GaugeFilter(django_filters.FilterSet):
    name = filters.Text(80, field_name="name")


class Gauges(Listed, Found, Noun):
    """Rain gauges."""

    model = Gauge
    visible_to = staticmethod(selectors.gauges)
    noun = "gauge"
    serializer_class = GaugeShown
    filterset_class = GaugeFilter

    def get_parsers(self) -> list[Any]:
        actions = getattr(self, "action_map", None) or {}
        return [RawTable()] if actions.get("post") == "take_rain" else super().get_parsers()

    @creates(GaugeGiven, GaugeShown, key=False)
    def create(self, request: Request) -> Response:
        """Name a gauge; the same name again is the same gauge."""
        given = self.given(GaugeGiven)
        if given.get("zone"):
            given |= field_checks.cleaned("gauge", {"zone": field_checks.zone}, {"zone": given["zone"]})
        before = self.get_queryset().filter(name=given["name"].strip()).exists()
        return self.told(add_gauge(act=self.act, **given), before=before)

    @extend_schema(
        operation_id="gauges_import",
        request={"text/csv": BYTES},
        parameters=[ImportWanted],
        responses=ImportShown,
        filters=False,
    )
    @action(detail=True, methods=["post"], url_path="import", url_name="import")
    def take_rain(self, request: Request, uid: str) -> Response:
        """Read a gauge's record (daily summaries, date and rain, or hourly) and, with `apply`, append its rows."""
        gauge = self.one()
        wanted = self.given(ImportWanted, data=request.query_params.dict())
        data = request.data if isinstance(request.data, bytes) else b""
        try:
            found = import_file(
                act=self.act,
                data=data,
                gauge_name=gauge.name,
                unit=wanted["unit"],
                station=wanted.get("station", ""),
                leave_out_bad_rows=wanted.get("leave_out_bad_rows") == "true",
                apply=wanted.get("apply") == "true",
            )
        except RainFileError as error:
            raise BadInput(str(error), code="rain_file") from None
        return Response(ImportShown(found).data)


class RainRowShown(Shown):
    """Rain of one local day (`hour` -1) or of the hour beginning at `hour`; a correction is a later row."""

    gauge = Ref(selectors.gauges)
    day = serializers.DateField()
    hour = serializers.IntegerField()
    depth_mm = serializers.FloatField()
    recorded_at = Moment()
    flag = Text(20)


class RainRowFilter(django_filters.FilterSet):
    gauge = filters.Uid(field_name="gauge__uid")
    from_day = filters.Day("day", "gte")
    until_day = filters.Day("day", "lte")
    recorded_from = filters.Moment("recorded_at", "gte")


class RainRows(Listed, Noun):
    """Rain as recorded."""

    model = RainRow
    visible_to = staticmethod(selectors.rain_rows)
    related = ("gauge",)
    serializer_class = RainRowShown
    filterset_class = RainRowFilter


class Numbers(serializers.ListField):
    """Numbers in their order; the service says which is out of its range."""

    def __init__(self, most: int, **options: Any) -> None:
        super().__init__(child=Number(required=True), max_length=most, **options)


class RainTableFields(Strict):
    """Depth by duration and return period: `depths_in[i][j]` belongs to `durations_min[i]` and `return_years[j]`.

    Durations, return periods and depths rise.
    """

    name = Text(80, required=True)
    durations_min = Numbers(rain_tables.MOST_DURATIONS, required=True)
    return_years = Numbers(rain_tables.MOST_RETURNS, required=True)
    depths_in = serializers.ListField(
        child=Numbers(rain_tables.MOST_RETURNS), max_length=rain_tables.MOST_DURATIONS, required=True
    )
    source = Text(300, required=True)  # type: ignore[assignment]


class RainTableGiven(RainTableFields):
    """The table of an area or, without one, of the whole company."""

    area = Ref(visible.areas)


class RainTableShown(Shown, RainTableGiven):
    """A rain table; an area without one of its own is judged by the company's."""

    uid = Uid()
    recorded_at = Moment()


class RainTableFilter(django_filters.FilterSet):
    area = filters.Uid(field_name="area__uid")


class RainTables(Listed, Found, Noun):
    """Rain tables."""

    model = RainTable
    visible_to = staticmethod(selectors.rain_tables)
    noun: ClassVar[str] = "table"
    related = ("area",)
    serializer_class = RainTableShown
    filterset_class = RainTableFilter

    def revision_of(self, row: RainTable) -> int:
        return row.pk

    @creates(RainTableGiven, RainTableShown, key=False)
    def create(self, request: Request) -> Response:
        """Record the table of an area or of the whole company."""
        return self.told(rain_tables.add_rain_table(act=self.act, **self.given(RainTableGiven)))

    @changes(RainTableFields, RainTableShown)
    def partial_update(self, request: Request, uid: str) -> Response:
        """Change a table; what was computed with it is computed again."""
        table = self.one()
        seen = preconditions.revision_stated(request, table.pk, needed=True)
        fields = self.given(RainTableFields, partial=True)
        return self.answer(self.guarded(rain_tables.change_rain_table, table, version_id=seen, **fields))

    @extend_schema(responses={204: None})
    def destroy(self, request: Request, uid: str) -> Response:
        """Take a table away: its area is judged by the company's again; it stays in the history."""
        rain_tables.remove_rain_table(act=self.act, table=self.one())
        return Response(status=204)
