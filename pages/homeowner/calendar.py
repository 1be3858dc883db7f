"""A homeowner's calendar addresses: make one, put another in its place, end it. The address is shown once."""

from uuid import UUID

import segno
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from core.act import Act
from maintenance import feeds
from maintenance.models import Feed
from pages.acting import found
from pages.homeowner.asking import homeowner_page, person_of

ALARMS = {"": None, "60": 60, "1440": 1440}


@homeowner_page
def calendar(request: HttpRequest, act: Act) -> HttpResponse:
    """The addresses there are, and a form for a new one."""
    return _page(request, act)


@homeowner_page
def new(request: HttpRequest, act: Act) -> HttpResponse:
    """A new address, shown on this very answer and never again."""
    alarm = ALARMS.get(request.POST.get("alarm", ""))
    _feed, secret = feeds.issue_feed(
        act=act,
        kind="homeowner",
        customer=person_of(request),
        label=request.POST.get("label", ""),
        alarm_minutes=alarm,
    )
    return _page(request, act, secret)


@homeowner_page
def renew(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """Another address in place of this one."""
    _feed, secret = feeds.renew_feed(act=act, feed=_own(act, uid))
    return _page(request, act, secret)


@homeowner_page
def end(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """End this address."""
    feeds.revoke_feed(act=act, feed=_own(act, uid))
    messages.success(request, _("The calendar address is ended."))
    return redirect("pages:home_calendar")


def _own(act: Act, uid: UUID) -> Feed:
    rows = Feed.objects.filter(customer_id=act.customer_id or 0, revoked_at=None).select_related("user", "customer")
    return found(rows, uid=uid)


def _page(request: HttpRequest, act: Act, secret: str = "") -> HttpResponse:
    rows = Feed.objects.filter(customer_id=act.customer_id or 0, revoked_at=None).order_by("-id")
    context: dict[str, object] = {"feeds": rows, "alarms": ALARMS}
    if secret:
        address = feeds.address_of(secret)
        context |= {"address": address, "webcal": "webcal:" + address.partition(":")[2], "qr": qr_code(address)}
    return render(request, "homeowner/calendar.html", context)


def qr_code(text: str) -> SafeString:
    """A QR code as inline SVG, dark on light whatever the page's colours: readers want it so."""
    drawn = segno.make(text, error="m").svg_inline(scale=5, border=4, dark="#000", light="#fff", svgclass="qr")
    return mark_safe(drawn)
