"""Messages: what was sent, waits, failed and why; one message with its life; what is not known is settled."""

from uuid import UUID

from django import forms
from django.contrib import messages as told
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from core import settle_message
from core.act import Act
from core.models import Message
from jobs.read import history
from maintenance.decide.occasions import OCCASIONS
from maintenance.messages import links
from maintenance.models import Visit
from maintenance.read import messages as read
from pages.acting import acting, found
from pages.paging import page_of

STATES = (
    ("", "all"),
    ("waiting", "waiting"),
    ("sent", "sent"),
    ("failed", "failed"),
    ("unknown", "not known whether they arrived"),
    ("skipped", "no longer needed"),
)
SETTLED = {
    "arrived": "Noted: it arrived.",
    "told": "Noted: they were told otherwise.",
    "again": "It is sent once more, within a minute while the worker runs.",
}


class MessageFilterForm(forms.Form):
    """State, occasion, words."""

    state = forms.ChoiceField(choices=STATES, required=False, label="State")
    kind = forms.ChoiceField(
        choices=[("", "any"), *((code, o.words) for code, o in OCCASIONS.items())], required=False, label="Occasion"
    )
    text = forms.CharField(max_length=80, required=False, label="Address or subject holds")


@acting
def messages(request: HttpRequest, act: Act) -> HttpResponse:
    """The outbox, newest first."""
    form = MessageFilterForm(request.GET or None)
    given = form.cleaned_data if form.is_valid() else {"state": "", "kind": "", "text": ""}
    rows = read.messages(act, group=given["state"], kind=given["kind"], text=given["text"].strip())
    page = page_of(request, rows)
    return render(
        request, "office/desk/messages.html", {"form": form, "page": page, "rows": read.seen(page.rows), "now": act.at}
    )


@acting
def message(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """One message: its words, its life, and what can be settled."""
    row = _one(act, uid)
    visit = Visit.objects.filter(uid=row.visit_uid).select_related("property").first() if row.visit_uid else None
    context = {
        "seen": read.seen([row])[0],
        "m": row,
        "words": row.text.replace(links.LINK, "(a secret link)").replace(links.WHEN, "(the day, told as of then)"),
        "visit": visit,
        "open": row.state in settle_message.AGAIN_STATES,
        "too_late": row.not_after is not None and row.not_after < act.at,
        "settled": history.of_object(act, row.uid, size=10),
    }
    return render(request, "office/desk/message.html", context)


@acting
def settle(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """Say what became of a message that is unknown or failed."""
    how = request.POST.get("how", "")
    settle_message.settle(act=act, message=_one(act, uid), how=how)
    told.success(request, SETTLED[how])
    return redirect("pages:message", uid=uid)


def _one(act: Act, uid: UUID) -> Message:
    return found(Message.objects.filter(pk__in=read.messages(act).values("pk")), uid=uid)
