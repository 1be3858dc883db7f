"""Jobs of construction."""

import django_filters
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters
from api.auth import act_of
from api.fields import Choice, Day, Moment, Ref, Text, Uid, Whole
from api.schema import acts, changes, creates
from api.scoped import Found, Listed, Noun
from api.strict import Shown, Strict
from core import limits
from jobs import job_stages
from jobs.models import Job
from jobs.read import visible


class JobFields(Strict):
    """What may be changed of a job."""

    kind = Choice(Job.Kind.values, required=True)
    title = Text(120, required=True)
    system = Ref(visible.systems)
    note = Text(limits.NOTE)
    waits_for = Text(120)
    price_cents = Whole(0, 1_000_000_000, "cents")
    locate_number = Text(40)
    locate_asked_on = Day()
    starts_on = Day()


class JobGiven(JobFields):
    """A new job."""

    uid = Uid()
    property = Ref(visible.properties, required=True)


class StepShown(serializers.Serializer):
    """When a job reached a stage."""

    stage = serializers.ChoiceField(Job.Stage.choices)
    at = serializers.DateTimeField()
    note = serializers.CharField()


class JobShown(Shown, JobGiven):
    """A piece of construction and the stages it has reached. The price is the office's alone."""

    stage = Choice(Job.Stage.values)
    steps = StepShown(many=True)
    revision = Whole()
    created_at = Moment()
    price_cents = serializers.SerializerMethodField()  # type: ignore[assignment]

    @extend_schema_field({"type": ["integer", "null"]})
    def get_price_cents(self, row: Job) -> int | None:
        """In cents; null for the crew."""
        return row.price_cents if act_of(self.context["request"]).is_office else None


class JobMove(Strict):
    """The next stage. Digging wants a locate number on the job, or a note that says why there is none."""

    stage = Choice(Job.Stage.values, required=True)
    note = Text(400)


class JobFilter(django_filters.FilterSet):
    property = filters.Uid(field_name="property__uid")
    system = filters.Uid(field_name="system__uid")
    kind = filters.Word(Job.Kind.choices, field_name="kind")
    stage = filters.Word(Job.Stage.choices, field_name="stage")


class Jobs(Listed, Found, Noun):
    """Jobs: installs, extensions and repairs, each waiting for one thing at a time."""

    model = Job
    visible_to = staticmethod(visible.jobs)
    noun = "job"
    related = ("property", "system")
    prefetched = ("steps",)
    serializer_class = JobShown
    filterset_class = JobFilter

    @creates(JobGiven, JobShown)
    def create(self, request: Request) -> Response:
        """Open a job."""
        return self.made(job_stages.open_job, self.given(JobGiven))

    @changes(JobFields, JobShown)
    def partial_update(self, request: Request, uid: str) -> Response:
        """Change some fields of a job."""
        return self.changed(job_stages.change_job, JobFields)

    @acts(JobMove, JobShown)
    @action(detail=True, methods=["post"])
    def move(self, request: Request, uid: str) -> Response:
        """Move a job to its next stage, or turn it down."""
        return self.answer(job_stages.move_job(act=self.act, job=self.one(), **self.given(JobMove)))
