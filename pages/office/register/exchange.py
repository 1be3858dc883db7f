"""The register as a file: upload, dry run, apply; and download."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_safe

from core.act import Act
from core.dispatch import after_commit
from core.limits import FILE_BYTES
from core.problem import BadInput
from jobs.exchange.apply import NotClean, apply
from jobs.exchange.export import export_register
from jobs.exchange.report import report
from jobs.exchange.template import template
from jobs.exchange.validate import check
from pages.acting import acting
from pages.forms.fields import Field

TYPES = {"csv": "text/csv; charset=utf-8", "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"}


@acting
def import_register(request: HttpRequest, act: Act) -> HttpResponse:
    """A dry run changes nothing and tells every problem by row and column; applying wants a file without any."""
    context = {
        "title": "Import yards from a file",
        "intro": "CSV or XLSX, one row a part. First a dry run: nothing is changed. Choose the file again to apply it.",
        "fields": [
            Field("file", "File", "file", required=True),
            Field("apply", "Apply it, if nothing is wrong", "check"),
        ],
        "button": "Read the file",
        "links": [(f"An empty layout, {form.upper()}", _layout(form)) for form in TYPES],
        "is_upload": True,
    }
    if request.method == "GET":
        return render(request, "office/register/form.html", context)
    wants = "apply" in request.POST
    try:
        data = _given(request)
        checked = apply(act=act, data=data) if wants else check(act=act, data=data)
    except NotClean as refused:
        checked, wants = refused.checked, False
    except BadInput as refused:
        context["errors"] = [("f-file", refused.detail)]
        return render(request, "office/register/form.html", context, status=refused.status)
    if wants:
        after_commit("maintenance.tasks.refresh_stale", queue="pulse")
        messages.success(request, "The file is in the register; due windows follow.")
        return redirect("pages:properties")
    context["after"] = report(checked, applied=False)
    return render(request, "office/register/form.html", context)


def _layout(file_format: str) -> str:
    return f"{reverse('pages:export_register', args=[file_format])}?template=1"


def _given(request: HttpRequest) -> bytes:
    given = request.FILES.get("file")
    if given is None:
        raise BadInput(f"Choose a file of at most {FILE_BYTES} bytes.")
    if (given.size or 0) > FILE_BYTES:
        raise BadInput(f"The file has {given.size} bytes: give at most {FILE_BYTES} bytes.")
    return given.read()


@require_safe
@acting
def export(request: HttpRequest, act: Act, file_format: str) -> HttpResponse:
    """Everything in the ground, or the empty layout with `?template=1`."""
    if file_format not in TYPES:
        raise BadInput(f"{file_format[:10]!r} is no format: csv or xlsx.")
    blank = request.GET.get("template") == "1"
    body = template(file_format) if blank else export_register(act=act, file_format=file_format)  # type: ignore[arg-type]
    answer = HttpResponse(body, content_type=TYPES[file_format])
    answer["Content-Disposition"] = f'attachment; filename="{"layout" if blank else "register"}.{file_format}"'
    return answer
