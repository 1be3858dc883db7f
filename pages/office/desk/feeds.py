"""Calendar feeds of technicians and company: issued, shown once, renewed, revoked. Homeowners make their own."""

from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from core.act import Act
from core.models import User
from core.problem import Problem
from maintenance import feeds as feed_service
from maintenance.models import Feed
from pages.acting import acting, found
from pages.homeowner.calendar import qr_code
from pages.office.desk.problems import tell
from pages.paging import page_of

COMPANY = "company"


class FeedForm(forms.Form):
    """Whose visits, a name, an alarm."""

    whose = forms.ChoiceField(label="Whose visits")
    label = forms.CharField(
        label="A name for it", required=False, max_length=80, help_text="Such as “wall screen”; may stay empty."
    )
    alarm_minutes = forms.TypedChoiceField(
        label="Ring before each visit",
        choices=[("", "no"), ("30", "half an hour before"), ("60", "one hour before"), ("1440", "a day before")],
        coerce=int,
        empty_value=None,
        required=False,
    )

    def __init__(self, *args, **more) -> None:
        super().__init__(*args, **more)
        crew = User.objects.filter(role=User.Role.CREW, is_active=True).order_by("first_name", "id")
        choices = [(COMPANY, "the whole company"), *((str(user.uid), user.display_name) for user in crew)]
        fields: Any = self.fields
        fields["whose"].choices = choices


@acting
def feeds(request: HttpRequest, act: Act) -> HttpResponse:
    """The feeds in use; POST makes one and shows its address on this very answer, never again."""
    form = FeedForm(request.POST if request.method == "POST" else None)
    if not form.is_bound or not form.is_valid():
        return _page(request, form)
    given = form.cleaned_data
    user = None if given["whose"] == COMPANY else User.objects.get(uid=given["whose"])
    try:
        feed, secret = feed_service.issue_feed(
            act=act,
            kind=Feed.Kind.COMPANY if user is None else Feed.Kind.TECHNICIAN,
            user=user,
            label=given["label"],
            alarm_minutes=given["alarm_minutes"],
        )
    except Problem as problem:
        return _page(request, tell(form, problem))
    return _page(request, FeedForm(), feed, secret)


@acting
def renew(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """Another address in place of this one; asked once more before, for the old one ends."""
    feed = _one(uid)
    if "sure" not in request.POST:
        return _sure(request, feed, "A new address for", "Make a new address")
    fresh, secret = feed_service.renew_feed(act=act, feed=feed)
    return _page(request, FeedForm(), fresh, secret)


@acting
def revoke(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """End an address; asked once more before."""
    feed = _one(uid)
    if "sure" not in request.POST:
        return _sure(request, feed, "End the address of", "End it")
    feed_service.revoke_feed(act=act, feed=feed)
    messages.success(request, f"The address of {whose(feed)} is ended.")
    return redirect("pages:feeds")


def whose(feed: Feed) -> str:
    """Whose visits a feed shows."""
    if feed.user is not None:
        return feed.user.display_name
    return feed.customer.name if feed.customer is not None else "the whole company"


def _one(uid: UUID) -> Feed:
    return found(Feed.objects.filter(revoked_at=None).select_related("user", "customer"), uid=uid)


def _sure(request: HttpRequest, feed: Feed, words: str, button: str) -> HttpResponse:
    context = {
        "title": f"{words} {whose(feed)}?",
        "detail": "Calendars that use the present address are told that it is gone. This cannot be taken back.",
        "button": button,
        "back": "pages:feeds",
    }
    return render(request, "office/desk/sure.html", context)


def _page(request: HttpRequest, form: FeedForm, feed: Feed | None = None, secret: str = "") -> HttpResponse:
    rows = Feed.objects.filter(revoked_at=None).select_related("user", "customer").order_by("kind", "-id")
    page = page_of(request, rows)
    context: dict[str, object] = {"form": form, "page": page, "rows": [(row, whose(row)) for row in page.rows]}
    if feed is not None:
        address = feed_service.address_of(secret)
        context |= {
            "whose": whose(feed),
            "address": address,
            "webcal": "webcal:" + address.partition(":")[2],
            "qr": qr_code(address),
        }
    return render(request, "office/desk/feeds.html", context, status=422 if form.errors else 200)
