"""Closeouts that wait for a look: both sides, and what can be done about each."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from core.act import Act
from core.problem import BadInput
from jobs.read import search
from jobs.read import visible as register
from maintenance import closeout_review as service
from maintenance.models import CloseoutReceived
from maintenance.read import reviews as read
from maintenance.read import visible
from pages.acting import acting, found
from pages.office.desk.given import uuid_of
from pages.paging import page_of

SIZE = 20


@acting
def reviews(request: HttpRequest, act: Act) -> HttpResponse:
    """Oldest first."""
    page = page_of(request, read.reviews(act), size=SIZE)
    return render(request, "office/desk/reviews.html", {"page": page, "reviews": read.told(page.rows)})


@acting
def clear(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """Do one of the actions a flag allows."""
    flag = found(visible.flags(act).select_related("received__property"), uid=uid)
    action = request.POST.get("action", "")
    if action == "set_aside" and "sure" not in request.POST:
        return render(
            request,
            "office/desk/sure.html",
            {
                "title": "Set this closeout aside?",
                "detail": "It is never taken in; its bytes stay kept. What was done there is then not recorded.",
                "button": "Set it aside",
                "back": "pages:reviews",
                "keep": {"action": action, "note": request.POST.get("note", "")},
            },
        )
    service.clear_flag(act=act, flag=flag, action=action, note=request.POST.get("note", ""))
    messages.success(request, "Done. Where it now waits for another reason, it stands below again.")
    return redirect("pages:reviews")


@acting
def match(request: HttpRequest, act: Act, number: int) -> HttpResponse:
    """Say which property a typed address was: search, choose, take it in."""
    received: CloseoutReceived = found(read.reviews(act), pk=number)
    if request.method == "POST":
        prop = register.properties(act).filter(uid__in=[uuid_of(request.POST.get("property", ""))]).first()
        if prop is None:
            raise BadInput("Choose the property this closeout was made at.")
        closeout = service.match_closeout(act=act, received=received, property=prop)
        if closeout is None:
            messages.success(request, f"Matched to {prop.address}; it waits for another reason now.")
        else:
            messages.success(request, f"Matched to {prop.address} and taken in.")
        return redirect("pages:reviews")
    review = read.told([received])[0]
    text = request.GET.get("q", review.typed)
    context = {"review": review, "text": text, "places": search.find(act, text, limit=20)}
    return render(request, "office/desk/match.html", context)
