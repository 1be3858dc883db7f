"""One-click unsubscribe (RFC 8058): GET shows a button and changes nothing, POST acts at once, without sign-in."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.csrf import csrf_exempt

from core import clock
from maintenance import reminders
from maintenance.decide.occasions import OCCASIONS
from maintenance.messages import links
from pages import errors, rate


@csrf_exempt
def stop(request: HttpRequest, value: str) -> HttpResponse:
    """The signed value names one person and one kind of message; a tampered one is not found."""
    named = links.read_unsubscribe(value)
    if named is None or named[1] not in OCCASIONS:
        return errors.not_found(request)
    wait = rate.wait_seconds("stop", value, most=60, within_s=600)
    if wait:
        return errors.too_many(request, wait)
    customer_uid, kind = named
    stopped = request.method == "POST"
    if stopped and not reminders.stop_by_link(at=clock.now(), customer_uid=customer_uid, kind=kind):
        return errors.not_found(request)
    context = {"words": OCCASIONS[kind].words, "stopped": stopped}
    response = render(request, "homeowner/stop.html", context)
    response["Referrer-Policy"] = "no-referrer"
    response["Cache-Control"] = "private, no-store"
    return response
