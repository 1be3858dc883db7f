"""The secret link: GET shows a button and changes nothing (mail scanners follow links), POST opens the session."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import translation
from django.views.decorators.csrf import csrf_exempt

from core import clock
from core.act import by_system
from maintenance import home_links
from pages import errors, home_session, rate

MOST_ASKED, WITHIN_S = 10, 900
MOST_GUESSES = 60


# Without a referrer browsers send "Origin: null" with a form, which Django's check refuses. The secret itself is what
# lets in here; that the form came from our own page is asked of Sec-Fetch-Site instead.
@csrf_exempt
def link(request: HttpRequest, secret: str) -> HttpResponse:
    """A good link: a button, then the session. A used, old or unknown one offers to mail a new one.

    It does not say which of these it was.
    """
    if wait := rate.wait_seconds("home-link", rate.client(request), most=MOST_GUESSES, within_s=WITHIN_S):
        return errors.too_many(request, wait)
    at = clock.now()
    if request.method == "POST" and not _from_elsewhere(request):
        used = home_links.use_link(act=by_system("link", at=at, via="link"), secret=secret)
        if used is not None:
            home_session.open_for(request, used[0])
            return _quiet(redirect("pages:home_drains"))
    if home_session.customer_of(request) is not None:
        # The same mail opened once more on this device, or the button pressed twice.
        return _quiet(redirect("pages:home_drains"))
    found = home_links.find_holder(secret, at=at)
    if found is None:
        return _quiet(render(request, "homeowner/link_old.html", {}, status=410))
    with translation.override(found[1].language):
        return _quiet(render(request, "homeowner/link.html", {}))


@csrf_exempt
def new_link(request: HttpRequest) -> HttpResponse:
    """Mail a new link to the address on file. The answer is the same whether we know the address or not."""
    if request.method != "POST":
        return _quiet(render(request, "homeowner/link_old.html", {"asked_here": True}))
    address = request.POST.get("email", "")
    for what, who in (("new-link", rate.client(request)), ("new-link-to", address.strip().casefold())):
        if wait := rate.wait_seconds(what, who, most=MOST_ASKED, within_s=WITHIN_S):
            return errors.too_many(request, wait)
    home_links.mail_new_link(act=by_system("link", via="link"), address=address)
    return _quiet(render(request, "homeowner/link_sent.html", {}))


def _from_elsewhere(request: HttpRequest) -> bool:
    return request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none")


def _quiet(response: HttpResponse) -> HttpResponse:
    response["Referrer-Policy"] = "no-referrer"
    response["Cache-Control"] = "private, no-store"
    response["X-Robots-Tag"] = "noindex"
    return response


def leave(request: HttpRequest) -> HttpResponse:
    """End this session on this device; the person's other devices keep theirs."""
    request.session.flush()
    return redirect("pages:home_new_link")
