"""What belongs to the one who asks: who they are, and their own tokens."""

from typing import Any

import django_filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters, selectors
from api.fields import Choice, Moment, Text, Uid, Whole
from api.schema import acts, creates
from api.scoped import Found, Listed, Noun, Private
from api.strict import Empty, Shown, Strict
from core import tokens
from core.models import Token, User
from core.problem import Conflict

MOST_LIVE = 20


class PersonShown(Shown):
    """A person of the company."""

    uid = Uid()
    name = Text(200, source="display_name")
    role = Choice(User.Role.values)
    initials = Text(4)


class Me(Private):
    """The one who asks."""

    http_method_names = ["get", "head"]

    @extend_schema(operation_id="me_retrieve", responses=PersonShown)
    def get(self, request: Request) -> Response:
        """Who this token or session belongs to."""
        return Response(PersonShown(request.user).data)


class TechnicianFilter(django_filters.FilterSet):
    role = filters.Word(User.Role.choices, field_name="role")


class Technicians(Listed, Found, Noun):
    """People of the company who work there now."""

    model = User
    visible_to = staticmethod(selectors.technicians)
    noun = "user"
    serializer_class = PersonShown
    filterset_class = TechnicianFilter


class TokenGiven(Strict):
    """What it is for, and how many days it lives."""

    label = Text(80, required=True)  # type: ignore[assignment]  # the metaclass takes it off the class
    days = Whole(1, 366, "days", allow_null=False)


class TokenShown(Shown):
    """A token of one's own, without its secret."""

    uid = Uid()
    label = Text(80)  # type: ignore[assignment]
    lookup = Text(12, help_text="The public part of it, to tell tokens apart.")
    created_at = Moment()
    expires_at = Moment()
    last_used_at = Moment()
    revoked_at = Moment()


class TokenMade(TokenShown):
    """A new token with its secret, shown this once."""

    token = serializers.CharField()


class TokenFilter(django_filters.FilterSet):
    live = filters.Empty(field_name="revoked_at", label="Those not revoked.")


class Tokens(Listed, Found, Noun):
    """One's own tokens, newest first."""

    model = Token
    visible_to = staticmethod(selectors.own_tokens)
    noun = "token"
    newest_first = True
    serializer_class = TokenShown
    filterset_class = TokenFilter

    @creates(TokenGiven, TokenMade, key=False)
    def create(self, request: Request) -> Response:
        """Make a token; it is in this answer and nowhere else."""
        given = self.given(TokenGiven)
        if self.get_queryset().filter(revoked_at=None, expires_at__gt=self.act.at).count() >= MOST_LIVE:
            raise Conflict(f"You have {MOST_LIVE} tokens already: revoke one first.", code="too_many")
        user: Any = request.user
        token, secret = tokens.issue(act=self.act, kind=Token.Kind.API, user=user, **given)
        shown = {**TokenShown(token).data, "token": secret}
        return Response(shown, status=201, headers={"Location": self.address(token), "Cache-Control": "no-store"})

    @acts(Empty, TokenShown)
    @action(detail=True, methods=["post"])
    def revoke(self, request: Request, uid: str) -> Response:
        """End a token now."""
        self.given(Empty)
        token = self.one()
        tokens.revoke(act=self.act, token=token)
        return self.answer(token)
