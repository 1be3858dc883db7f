"""The list of properties, searched by name, address, tag or phone, filtered and paged in the database."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from core.act import Act
from jobs.read import search, visible
from pages.acting import acting
from pages.paging import page_of


@acting
def properties(request: HttpRequest, act: Act) -> HttpResponse:
    """Every property this person may see; `?q=` searches, `?area=` narrows."""
    text = request.GET.get("q", "").strip()[:100]
    area = request.GET.get("area", "")
    rows = search.matching(act, text) if text else visible.properties(act)
    if area.isdecimal() and area.isascii() and len(area) < 10:
        rows = rows.filter(area=int(area))
    if request.GET.get("closed") != "1":
        rows = rows.filter(closed_at=None)
    rows = rows.select_related("area", "forecast").order_by("address", "id")
    context = {
        "page": page_of(request, rows),
        "q": text,
        "area": area,
        "areas": visible.areas(act).order_by("name"),
        "closed": request.GET.get("closed") == "1",
    }
    return render(request, "office/register/properties.html", context)
