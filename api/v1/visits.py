"""Visits and their moves. A closeout alone ends one."""

from typing import Any
from uuid import UUID

import django_filters
from django.db.models import Prefetch
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters, preconditions, selectors
from api.fields import Choice, Day, LocalTime, Moment, Ref, Refs, Text, Uid, Whole
from api.schema import acts, creates
from api.scoped import Found, Listed, Noun
from api.strict import Empty, Shown, Strict
from core import limits
from jobs.kinds.words import TASKS
from jobs.models import Property
from jobs.read import visible as register
from maintenance import visits
from maintenance.gate_code import show_gate_code
from maintenance.models import Visit, VisitTask, VisitTechnician
from maintenance.propose import propose_visits
from maintenance.propose_once import propose_once
from maintenance.read import visible


class TaskGiven(Strict):
    """One task on one component."""

    component = Ref(register.components, required=True)
    task = Choice(TASKS, required=True)
    rule_code = Text(60)
    words = Text(400)
    latest_on = Day()
    minutes = Whole(0, 1440, "min", allow_null=False)


class VisitGiven(Strict):
    """A visit proposed by a person."""

    uid = Uid()
    property = Ref(register.properties, required=True)
    tasks = TaskGiven(many=True, required=True, allow_empty=False, max_length=200)  # type: ignore[call-arg]
    no_sooner_than = Day()
    best_on = Day()
    no_later_than = Day()
    minutes = Whole(0, 1440, "min")
    note = Text(limits.NOTE)
    job = Ref(register.jobs)


class TaskShown(Shown, TaskGiven):
    """One task and what came of it."""

    uid = Uid()
    outcome = Text(16)
    reason = Text(200)


class DayGiven(Strict):
    """A day at the property, with the time of arrival if one is meant."""

    local_date = Day(required=True)
    local_start = LocalTime()
    span_minutes = Whole(15, 720, "min")


class DayShown(Shown, DayGiven):
    """A day on offer."""


class TechnicianShown(serializers.Serializer):
    """Who goes."""

    technician = Ref(selectors.technicians, source="user", read_only=True)
    name = serializers.CharField(source="user.display_name")
    lead = serializers.BooleanField()


class VisitShown(Shown):
    """One trip to one property with its tasks. Times are the property's, in `zone`; `starts_at` is the instant."""

    uid = Uid()
    property = Ref(register.properties)
    address = serializers.CharField(source="property.address")
    state = Choice(Visit.State.values)
    cover = Choice(Visit.Cover.values)
    agreement = Ref(visible.agreements)
    job = Ref(register.jobs)
    local_date = Day()
    local_start = LocalTime()
    span_minutes = Whole()
    zone = Text(50)
    starts_at = Moment()
    minutes = Whole()
    place_in_day = Whole()
    no_sooner_than = Day()
    best_on = Day()
    no_later_than = Day()
    notice_only = serializers.BooleanField()
    offered_at = Moment()
    answer_by = Day()
    agreed_at = Moment()
    agreed_by = Text(60)
    begun_at = Moment()
    ended_at = Moment()
    called_off_why = Text(300)
    note = Text(limits.NOTE)
    customer_note = Text(limits.NOTE)
    tasks = TaskShown(many=True)
    technicians = TechnicianShown(many=True)
    offered_days = DayShown(many=True)
    sequence = Whole()
    revision = Whole()
    created_at = Moment()
    changed_at = Moment()


class Offer(Strict):
    """Days to choose from."""

    days = DayGiven(many=True, required=True, allow_empty=False, max_length=10)  # type: ignore[call-arg]


class Agree(DayGiven):
    """The day, who said yes, and who goes (the lead first)."""

    agreed_by = Text(60)
    technicians = Refs(selectors.technicians)


class Notice(DayGiven):
    """The day people are told, and who goes."""

    technicians = Refs(selectors.technicians)


class MoveTo(DayGiven):
    """The new day, and who said yes to it."""

    agreed_by = Text(60)


class CallOff(Strict):
    """Why: people are told."""

    why = Text(300, required=True)


class Assign(Strict):
    """Who goes, the lead first, and the place in the day's driving order."""

    technicians = Refs(selectors.technicians, required=True)
    place_in_day = Whole(0, 99)


class SetCover(Strict):
    """Who pays."""

    cover = Choice(Visit.Cover.values, required=True)
    why = Text(300)


class ProposeDue(Strict):
    """For which properties; all where left out."""

    properties = Refs(register.properties)


class Proposed(serializers.Serializer):
    """Visits that are new or changed."""

    visits = serializers.ListField(child=serializers.UUIDField())


class GateCode(serializers.Serializer):
    """The code; each look is in the history."""

    gate_code = serializers.CharField()


class VisitFilter(django_filters.FilterSet):
    property = filters.Uid(field_name="property__uid")
    area = filters.Uid(field_name="property__area__uid")
    technician = filters.Uid(field_name="technicians__user__uid", distinct=True)
    component = filters.Uid(field_name="tasks__component__uid", distinct=True)
    job = filters.Uid(field_name="job__uid")
    state = filters.Word(Visit.State.choices, field_name="state")
    cover = filters.Word(Visit.Cover.choices, field_name="cover")
    from_date = filters.Day("local_date", "gte")
    until_date = filters.Day("local_date", "lte")


class Visits(Listed, Found, Noun):
    """Visits, newest first."""

    model = Visit
    visible_to = staticmethod(visible.visits)
    noun = "visit"
    newest_first = True
    related = ("property", "agreement", "job")
    prefetched = (
        Prefetch("tasks", VisitTask.objects.select_related("component").order_by("id")),
        Prefetch("technicians", VisitTechnician.objects.select_related("user").order_by("-lead", "id")),
        "offered_days",
    )
    serializer_class = VisitShown
    filterset_class = VisitFilter

    @creates(VisitGiven, VisitShown)
    def create(self, request: Request) -> Response:
        """Propose a visit for tasks a person wants."""
        return self.made(propose_once, self.given(VisitGiven))

    @acts(ProposeDue, Proposed)
    @action(detail=False, methods=["post"], url_path="propose-due", url_name="propose-due")
    def propose_due(self, request: Request) -> Response:
        """Bring proposals in step with what is due."""
        places: list[Property] | None = self.given(ProposeDue).get("properties")
        keys = None if places is None else [place.pk for place in places]
        return Response({"visits": [row.uid for row in propose_visits(act=self.act, property_ids=keys)]})

    @acts(Offer, VisitShown, versioned=True)
    @action(detail=True, methods=["post"])
    def offer(self, request: Request, uid: UUID) -> Response:
        """Offer days to the homeowner, who is told."""
        return self._step(visits.offer, Offer)

    @acts(Empty, VisitShown, versioned=True)
    @action(detail=True, methods=["post"], url_path="take-back", url_name="take-back")
    def take_back(self, request: Request, uid: UUID) -> Response:
        """Withdraw an offer."""
        return self._step(visits.take_back, Empty)

    @acts(Agree, VisitShown, versioned=True)
    @action(detail=True, methods=["post"])
    def agree(self, request: Request, uid: UUID) -> Response:
        """Agree the day."""
        return self._step(visits.agree, Agree)

    @acts(Notice, VisitShown, versioned=True)
    @action(detail=True, methods=["post"])
    def notice(self, request: Request, uid: UUID) -> Response:
        """Give notice of the day, where the property may be entered with notice only."""
        return self._step(visits.give_notice, Notice)

    @acts(MoveTo, VisitShown, versioned=True)
    @action(detail=True, methods=["post"])
    def move(self, request: Request, uid: UUID) -> Response:
        """Put an agreed visit on another day or time; people are told."""
        return self._step(visits.move, MoveTo)

    @acts(Empty, VisitShown, versioned=True)
    @action(detail=True, methods=["post"])
    def begin(self, request: Request, uid: UUID) -> Response:
        """The crew is there."""
        return self._step(visits.begin, Empty)

    @acts(Empty, VisitShown, versioned=True)
    @action(detail=True, methods=["post"], url_path="not-begun", url_name="not-begun")
    def not_begun(self, request: Request, uid: UUID) -> Response:
        """Take back a "begun" pressed by mistake."""
        return self._step(visits.not_begun, Empty)

    @acts(CallOff, VisitShown, versioned=True)
    @action(detail=True, methods=["post"], url_path="call-off", url_name="call-off")
    def call_off(self, request: Request, uid: UUID) -> Response:
        """Call the visit off for good; people are told why."""
        return self._step(visits.call_off, CallOff)

    @acts(Assign, VisitShown, versioned=True)
    @action(detail=True, methods=["post"])
    def assign(self, request: Request, uid: UUID) -> Response:
        """Say who goes."""
        return self._step(_assign, Assign)

    @acts(SetCover, VisitShown, versioned=True)
    @action(detail=True, methods=["post"])
    def cover(self, request: Request, uid: UUID) -> Response:
        """Say who pays."""
        return self._step(visits.set_cover, SetCover)

    @acts(Empty, GateCode)
    @action(detail=True, methods=["post"], url_path="gate-code", url_name="gate-code")
    def gate_code(self, request: Request, uid: UUID) -> Response:
        """Show the gate code to those on the visit, around its day; the look is written down."""
        self.given(Empty)
        answer = Response({"gate_code": show_gate_code(act=self.act, visit=self.one())})
        answer["Cache-Control"] = "no-store"
        return answer

    def _step(self, change: Any, takes: type[Strict]) -> Response:
        visit = self.one()
        stated = preconditions.revision_stated(self.request, visit.revision, needed=False)
        given = self.given(takes)
        return self.answer(self.guarded(change, visit, revision=stated, **given))


def _assign(*, technicians: Any, **given: Any) -> Visit:
    return visits.assign(users=technicians, **given)
