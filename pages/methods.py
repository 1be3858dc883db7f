"""How the numbers are computed: the project's own pages of formulas and sources, as plain text."""

from pathlib import Path
from typing import Final

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

PAGES: Final = {
    "hydraulics": ("What a system carries", "methods-hydraulics.md"),
    "forecast": ("Silting, wear and due windows", "methods-forecast.md"),
    "index": ("What is computed", "methods.md"),
}


def methods(request: HttpRequest, name: str) -> HttpResponse:
    """One page of methods; every number links here."""
    if name not in PAGES:
        raise Http404
    title, file = PAGES[name]
    text = (Path(settings.BASE_DIR) / "docs" / file).read_text(encoding="utf-8")
    return render(request, "office/methods.html", {"title": title, "text": text})
