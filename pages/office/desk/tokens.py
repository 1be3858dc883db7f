"""One's own API tokens: made, shown once, revoked."""

from uuid import UUID

from django import forms
from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from core import tokens as token_service
from core.act import Act
from core.models import Token, User
from core.problem import Conflict, Problem
from pages.acting import acting, found
from pages.office.desk.problems import tell

MOST_LIVE = 20
SHOWN = 100


class TokenForm(forms.Form):
    """What it is for and how long it lives."""

    label = forms.CharField(label="What it is for", max_length=80, help_text="Such as “route sheets on the wall”.")
    days = forms.IntegerField(label="Lives for [days]", min_value=1, max_value=366, initial=90, help_text="1 to 366.")


@acting
def tokens(request: HttpRequest, act: Act) -> HttpResponse:
    """The tokens there are; POST makes one and shows it on this very answer, never again."""
    form = TokenForm(request.POST if request.method == "POST" else None)
    secret = ""
    if form.is_bound and form.is_valid():
        try:
            secret = _issue(request, act, form)
            form = TokenForm()
        except Problem as problem:
            tell(form, problem)
    rows = _own(act).order_by("-id")[:SHOWN]
    context = {"form": form, "rows": rows, "secret": secret, "now": act.at}
    return render(request, "office/desk/tokens.html", context, status=422 if form.errors else 200)


@acting
def revoke(request: HttpRequest, act: Act, uid: UUID) -> HttpResponse:
    """End one now; asked once more before."""
    token = found(_own(act), uid=uid)
    if "sure" not in request.POST:
        return render(
            request,
            "office/desk/sure.html",
            {
                "title": f"Revoke the token “{token.label}”?",
                "detail": "Whatever uses it is let in no more, at once. This cannot be taken back.",
                "button": "Revoke it",
                "back": "pages:tokens",
            },
        )
    token_service.revoke(act=act, token=token)
    messages.success(request, f"The token “{token.label}” is revoked.")
    return redirect("pages:tokens")


def _own(act: Act) -> QuerySet[Token]:
    return Token.objects.filter(user_id=act.user_id or 0, kind=Token.Kind.API)


def _issue(request: HttpRequest, act: Act, form: TokenForm) -> str:
    if _own(act).filter(revoked_at=None, expires_at__gt=act.at).count() >= MOST_LIVE:
        raise Conflict(f"You have {MOST_LIVE} tokens already: revoke one first.")
    user = User.objects.get(pk=act.user_id or 0)
    _token, secret = token_service.issue(act=act, kind=Token.Kind.API, user=user, **form.cleaned_data)
    return secret
