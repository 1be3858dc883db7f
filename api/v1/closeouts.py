"""Closeouts: taken byte for byte, answered with id and digest; and what the office does with those that wait."""

from datetime import datetime
from typing import Any
from uuid import UUID

import django_filters
from django.http import Http404
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters
from api.digest import stated_digest
from api.fields import Choice, Moment, Number, Ref, Text, Uid, Whole
from api.idempotency import REPLAYED
from api.parsers import RawJson
from api.schema import X_SHA256, acts
from api.scoped import Found, Listed, Noun
from api.strict import Shown, Strict
from jobs.read import visible as register
from maintenance import closeout_review
from maintenance.closeout import close
from maintenance.decide.closeout_flags import ACTIONS, FLAGS
from maintenance.models import CloseoutFlag, CloseoutReceived
from maintenance.read import visible

State = CloseoutReceived.State
X_PHONE_AT = OpenApiParameter(
    "X-Phone-At",
    {"type": "string", "format": "date-time"},
    OpenApiParameter.HEADER,
    description="The sender's clock as it sends, with its zone.",
)
WAITS = (State.RECEIVED, State.NEEDS_OFFICE, State.UNMATCHED)


class FlagShown(Shown):
    """Something a person must look at; `actions` are what clears it."""

    uid = Uid()
    closeout = serializers.UUIDField(source="received.uid")
    body_no = serializers.IntegerField(source="received.body_no")
    code = Choice(FLAGS)
    title = serializers.SerializerMethodField()
    words = Text(400)
    sides = serializers.DictField()
    actions = serializers.SerializerMethodField()
    raised_at = Moment()
    cleared_at = Moment()
    cleared_by = Text(60)
    cleared_how = Text(200)

    def get_title(self, row: CloseoutFlag) -> str:
        """What kind of flag it is."""
        return FLAGS[row.code].title

    def get_actions(self, row: CloseoutFlag) -> list[str]:
        """What can be done about it."""
        return list(FLAGS[row.code].actions)


class CloseoutShown(Shown):
    """A closeout as received. `body_no` over 1: another content came under the same id; only the first is applied."""

    uid = Uid()
    digest = Text(64)
    body_no = Whole()
    state = Choice(State.values)
    state_note = Text(400)
    visit = Ref(visible.visits)
    property = Ref(register.properties)
    sender = serializers.UUIDField(source="sender.uid", allow_null=True, default=None)
    received_at = Moment()
    phone_at = Moment()
    skew_s = Number()
    via = Text(10)


class FlagClear(Strict):
    """One of the flag's actions, and a note."""

    action = Choice(ACTIONS, required=True)
    note = Text(180)


class Match(Strict):
    """Which property the typed address was."""

    property = Ref(register.properties, required=True)


class SetAside(Strict):
    """Why it is not applied."""

    why = Text(180, required=True)


class CloseoutFilter(django_filters.FilterSet):
    uid = filters.Uid(field_name="uid")
    visit = filters.Uid(field_name="visit__uid")
    property = filters.Uid(field_name="property__uid")
    sender = filters.Uid(field_name="sender__uid")
    state = filters.Word(State.choices, field_name="state")
    received_from = filters.Moment("received_at", "gte")


class Closeouts(Listed, Found, Noun):
    """Closeouts as received, newest first."""

    model = CloseoutReceived
    visible_to = staticmethod(visible.received)
    noun = "received"
    newest_first = True
    related = ("visit", "property", "sender")
    serializer_class = CloseoutShown
    filterset_class = CloseoutFilter

    def get_parsers(self) -> list[Any]:
        actions = getattr(self, "action_map", None) or {}
        sends = self.request is not None and actions.get(str(self.request.method).lower()) == "send"
        return [RawJson()] if sends else super().get_parsers()

    def one(self) -> Any:
        """The first content under this id that the asking person may see."""
        row = self.get_queryset().filter(uid=self.kwargs["uid"]).order_by("body_no").first()
        if row is None:
            raise Http404
        return row

    @extend_schema(
        request={"application/json": {"$ref": "#/components/schemas/Closeout"}},
        responses={
            201: OpenApiResponse(CloseoutShown, "Taken and applied."),
            200: OpenApiResponse(CloseoutShown, "The same came before; marked by Idempotency-Replayed."),
            202: OpenApiResponse(CloseoutShown, "Kept; not applied yet, or the office must look at it."),
        },
        parameters=[X_SHA256, X_PHONE_AT],
    )
    def send(self, request: Request, uid: UUID) -> Response:
        """Take a closeout: 201 applied, 202 kept and waiting (`state` says for what), 200 the same again.

        The phone may let go of all three. 409: this id came with another content before; both are kept.
        """
        body = request.data if isinstance(request.data, bytes) else b""
        closed = close(act=self.act, uid=uid, body=body, digest=stated_digest(request), phone_at=_phone_at(request))
        waits = closed.received.state in WAITS
        answer = self.answer(closed.received, status=202 if waits else 201 if closed.created else 200)
        if not closed.created:
            answer[REPLAYED] = "true"
        return answer

    @acts(Match, CloseoutShown)
    @action(detail=True, methods=["post"])
    def match(self, request: Request, uid: UUID) -> Response:
        """Say which property a typed address was, and apply the closeout there."""
        received = self.one()
        closeout_review.match_closeout(act=self.act, received=received, **self.given(Match))
        return self.answer(received)

    @acts(SetAside, CloseoutShown)
    @action(detail=True, methods=["post"], url_path="set-aside", url_name="set-aside")
    def set_aside(self, request: Request, uid: UUID) -> Response:
        """Leave a waiting closeout unapplied for good; its bytes stay kept."""
        return self.answer(closeout_review.set_aside(act=self.act, received=self.one(), **self.given(SetAside)))


class FlagFilter(django_filters.FilterSet):
    closeout = filters.Uid(field_name="received__uid")
    visit = filters.Uid(field_name="received__visit__uid")
    code = filters.Word([(code, kind.title) for code, kind in FLAGS.items()], field_name="code")
    open = filters.Empty(field_name="cleared_at", label="Those nobody has cleared.")


class CloseoutFlags(Listed, Found, Noun):
    """Flags on closeouts, newest first."""

    model = CloseoutFlag
    visible_to = staticmethod(visible.flags)
    noun = "flag"
    newest_first = True
    related = ("received",)
    serializer_class = FlagShown
    filterset_class = FlagFilter

    @acts(FlagClear, FlagShown)
    @action(detail=True, methods=["post"])
    def clear(self, request: Request, uid: UUID) -> Response:
        """Do one of the flag's actions and clear it. To match an address use the closeout's own `match`."""
        return self.answer(closeout_review.clear_flag(act=self.act, flag=self.one(), **self.given(FlagClear)))


def _phone_at(request: Request) -> datetime | None:
    given = request.headers.get("X-Phone-At")
    if given is None:
        return None
    field = Moment(required=True)
    field.field_name = "X-Phone-At"
    try:
        at: datetime = field.run_validation(given)
    except serializers.ValidationError as error:
        raise serializers.ValidationError({"X-Phone-At": error.detail}) from None
    return at
