"""The office's own lists: messages and calls to make."""

from typing import ClassVar

import django_filters
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters, selectors
from api.fields import Choice, Moment, Ref, Text, Uid, Whole
from api.schema import acts
from api.scoped import Found, Listed, Noun
from api.strict import Shown, Strict
from core.models import Message
from core.settle_message import WAYS, settle
from jobs.read import visible as register
from maintenance import calls_to_make
from maintenance.models import CallToMake
from maintenance.read import visible


class MessageShown(Shown):
    """One message to one address about one occasion, and what became of it."""

    uid = Uid()
    kind = Text(30)
    channel = Text(10)
    policy = Choice(Message.Policy.values)
    state = Choice(Message.State.values)
    to_address = Text(254)
    subject = Text(200)
    customer = serializers.UUIDField(source="holder_uid", allow_null=True)
    property = serializers.UUIDField(source="property_uid", allow_null=True)
    visit = serializers.UUIDField(source="visit_uid", allow_null=True)
    created_at = Moment()
    due_at = Moment()
    not_after = Moment()
    attempts = Whole()
    sent_at = Moment()
    closed_at = Moment()
    last_error = Text(500)


class MessageSettle(Strict):
    """`arrived`: they say they have it. `told`: they were told otherwise. `again`: send it once more."""

    how = Choice(WAYS, required=True)


class MessageFilter(django_filters.FilterSet):
    customer = filters.Uid(field_name="holder_uid")
    property = filters.Uid(field_name="property_uid")
    visit = filters.Uid(field_name="visit_uid")
    kind = filters.Text(30, field_name="kind")
    state = filters.Word(Message.State.choices, field_name="state")
    due_from = filters.Moment("due_at", "gte")
    due_until = filters.Moment("due_at", "lt")


class Messages(Listed, Found, Noun):
    """Messages, newest first: what was sent, what waits, what failed and why."""

    model = Message
    visible_to = staticmethod(selectors.messages)
    noun: ClassVar[str] = "message"
    newest_first = True
    serializer_class = MessageShown
    filterset_class = MessageFilter

    @acts(MessageSettle, MessageShown)
    @action(detail=True, methods=["post"])
    def settle(self, request: Request, uid: str) -> Response:
        """Say what became of a message that may or may not have arrived, or that failed."""
        return self.answer(settle(act=self.act, message=self.one(), **self.given(MessageSettle)))


class CallShown(Shown):
    """Someone to ring, and why."""

    uid = Uid()
    property = Ref(register.properties)
    customer = Ref(register.customers)
    visit = Ref(visible.visits)
    reason = Choice(CallToMake.Reason.values)
    note = Text(400)
    since = Moment()
    told_at = Moment()
    told_by = Text(60)


class CallTold(Strict):
    """What came of it, if there is something to say."""

    note = Text(300)


class CallFilter(django_filters.FilterSet):
    property = filters.Uid(field_name="property__uid")
    customer = filters.Uid(field_name="customer__uid")
    visit = filters.Uid(field_name="visit__uid")
    reason = filters.Word(CallToMake.Reason.choices, field_name="reason")
    open = filters.Empty(field_name="told_at", label="Calls nobody has made yet.")


class CallsToMake(Listed, Found, Noun):
    """Calls to make."""

    model = CallToMake
    visible_to = staticmethod(visible.calls_to_make)
    noun = "call"
    related = ("property", "customer", "visit")
    serializer_class = CallShown
    filterset_class = CallFilter

    @acts(CallTold, CallShown)
    @action(detail=True, methods=["post"], url_path="told", url_name="told")
    def tick(self, request: Request, uid: str) -> Response:
        """Say that this person was rung."""
        return self.answer(calls_to_make.told(act=self.act, call=self.one(), **self.given(CallTold)))
