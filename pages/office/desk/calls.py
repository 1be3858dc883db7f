"""Calls to make, oldest first; ticked when the person was told by phone."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from core.act import Act
from maintenance import calls_to_make
from maintenance.read import visible
from maintenance.read import visits as read
from pages.acting import acting, found
from pages.paging import page_of


@acting
def calls(request: HttpRequest, act: Act) -> HttpResponse:
    """Those nobody has made yet, or those made."""
    made = request.GET.get("show") == "made"
    rows = read.open_calls(act)
    if made:
        rows = visible.calls_to_make(act).exclude(told_at=None).select_related("property", "customer", "visit")
        rows = rows.order_by("-told_at", "-id")
    return render(request, "office/desk/calls.html", {"page": page_of(request, rows), "made": made})


@acting
def told(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """Told by phone."""
    call = found(visible.calls_to_make(act).select_related("property"), uid=uid)
    calls_to_make.told(act=act, call=call, note=request.POST.get("note", ""))
    messages.success(request, f"Ticked: {call.property.address}, {call.get_reason_display()}.")
    return redirect("pages:calls")
