"""Rain: the gauges and their records, a file tried and taken in, the tables systems are judged by, storms found."""

from django import forms
from django.db.models import F, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from core import limits
from core.act import Act
from core.problem import Problem
from maintenance import rain as service
from maintenance.models import RainTable
from maintenance.rain_files import UNITS, RainFileError
from maintenance.read import rain_seen
from pages.acting import acting
from pages.office.desk.problems import tell

UNIT_WORDS = {"in": "inches", "mm": "millimetres", "tenth-mm": "tenths of a millimetre"}
REPORTS_SHOWN = 200


class RainForm(forms.Form):
    """A gauge's file; the unit is never guessed."""

    gauge = forms.CharField(label="Gauge", max_length=80, help_text="A name there is, or a new one.")
    unit = forms.ChoiceField(
        label="Unit of the rain in the file",
        choices=[("", "choose"), *((code, UNIT_WORDS[code]) for code in UNITS)],
        help_text="It is never guessed.",
    )
    station = forms.CharField(
        label="Station", required=False, max_length=40, help_text="Only where the file holds several stations."
    )
    source = forms.CharField(
        label="Where the record comes from", required=False, max_length=300, help_text="Kept with a new gauge."
    )
    file = forms.FileField(
        label="File", help_text="CSV: STATION, DATE, PRCP as the daily summaries have it, plain date,rain, or hourly."
    )
    leave_out_bad_rows = forms.BooleanField(
        label="Leave bad rows out as gaps", required=False, help_text="Else a file with errors is refused as a whole."
    )

    def clean_file(self):
        """Not larger than what may be sent at all."""
        file = self.cleaned_data["file"]
        if file.size > limits.FILE_BYTES:
            raise forms.ValidationError(f"The file has {file.size} bytes: give at most {limits.FILE_BYTES} bytes.")
        return file


@acting
def rain(request: HttpRequest, act: Act) -> HttpResponse:
    """The gauges; POST tries a file, or takes it in where that was asked for."""
    form = RainForm(request.POST or None, request.FILES or None)
    result = None
    if form.is_bound and form.is_valid():
        result = _import(request, act, form)
    context = {
        "form": form,
        "gauges": rain_seen.gauges(act),
        "tables": [(table, list(zip(table.durations_min, table.depths_in, strict=False))) for table in _tables()],
        "result": result,
        "reports": result.read.reports[:REPORTS_SHOWN] if result else (),
    }
    return render(request, "office/desk/rain.html", context, status=422 if form.errors else 200)


@acting
def storms(request: HttpRequest, act: Act) -> HttpResponse:
    """Storms in the record of the last 90 days and the looks they ask for."""
    return render(request, "office/desk/storms.html", {"seen": rain_seen.storms(act), "days": rain_seen.STORM_DAYS})


def _tables() -> QuerySet[RainTable]:
    return RainTable.objects.select_related("area").order_by(F("area__name").asc(nulls_first=True), "id")


def _import(request: HttpRequest, act: Act, form: RainForm) -> service.RainFileImport | None:
    given = form.cleaned_data
    try:
        return service.import_file(
            act=act,
            data=given["file"].read(),
            gauge_name=given["gauge"],
            unit=given["unit"],
            station=given["station"],
            source=given["source"],
            leave_out_bad_rows=given["leave_out_bad_rows"],
            apply="apply" in request.POST,
        )
    except RainFileError as error:
        form.add_error("file", str(error))
    except Problem as problem:
        tell(form, problem)
    return None
