"""Readings and tasks done: what was measured, graded and done."""

from typing import Any
from uuid import uuid4

import django_filters
from rest_framework.request import Request
from rest_framework.response import Response

from api import filters
from api.fields import Choice, Day, Moment, Number, Ref, Text, Uid, YesNo
from api.schema import creates
from api.scoped import Found, Listed, Noun
from api.strict import Shown, Strict
from jobs.kinds.words import OUTCOMES, READINGS, TASKS
from jobs.read import visible as register
from maintenance.models import Reading, TaskDone
from maintenance.owner_tasks import mark_done
from maintenance.read import visible

TASK_CHOICES = [(code, task.words) for code, task in TASKS.items()]


class ReadingShown(Shown):
    """One value as entered, and `canonical` in the unit of its code."""

    uid = Uid()
    component = Ref(register.components)
    code = Choice(READINGS)
    value = Number()
    unit = Text(12)
    canonical = Number()
    grade = Text(16)
    text = Text(400)
    moment = Choice(["before", "after"])
    measured_at = Moment()
    phone_at = Moment()
    skew_s = Number()
    recorded_at = Moment()
    measured_by = Text(60)
    entered_by = Text(60)
    by_owner = YesNo()
    closeout = Ref(visible.closeouts)
    withdraws = Ref(visible.readings)
    odd = Text(200)


class ReadingFilter(django_filters.FilterSet):
    property = filters.Uid(field_name="component__property__uid")
    component = filters.Uid(field_name="component__uid")
    closeout = filters.Uid(field_name="closeout__uid")
    code = filters.Word([(code, reading.words) for code, reading in READINGS.items()], field_name="code")
    measured_from = filters.Moment("measured_at", "gte")
    measured_until = filters.Moment("measured_at", "lt")
    recorded_from = filters.Moment("recorded_at", "gte")


class Readings(Listed, Found, Noun):
    """Readings, newest first; they come in with closeouts and are never changed."""

    model = Reading
    visible_to = staticmethod(visible.readings)
    related = ("component", "closeout", "withdraws")
    newest_first = True
    serializer_class = ReadingShown
    filterset_class = ReadingFilter


class TaskDoneGiven(Strict):
    """An owner's own task, done."""

    uid = Uid()
    component = Ref(register.components, required=True)
    task = Choice(TASKS, required=True)
    done_on = Day()


class TaskDoneShown(Shown, TaskDoneGiven):
    """A task reported for a component; `left_fill` is the silt left behind, 0 clean to 1 full."""

    outcome = Choice(OUTCOMES)
    reason = Text(200)
    recorded_at = Moment()
    left_fill = Number()
    by = Text(60)
    closeout = Ref(visible.closeouts)


class TaskDoneFilter(django_filters.FilterSet):
    property = filters.Uid(field_name="component__property__uid")
    component = filters.Uid(field_name="component__uid")
    closeout = filters.Uid(field_name="closeout__uid")
    task = filters.Word(TASK_CHOICES, field_name="task")
    outcome = filters.Word(list(OUTCOMES.items()), field_name="outcome")
    done_from = filters.Day("done_on", "gte")
    done_until = filters.Day("done_on", "lte")


class TasksDone(Listed, Found, Noun):
    """Tasks done, newest first; the crew's come in with closeouts."""

    model = TaskDone
    visible_to = staticmethod(visible.tasks_done)
    related = ("component", "closeout")
    newest_first = True
    serializer_class = TaskDoneShown
    filterset_class = TaskDoneFilter

    @creates(TaskDoneGiven, TaskDoneShown)
    def create(self, request: Request) -> Response:
        """Record that an owner did one of their own tasks, which moves its next date."""
        return self.made(_mark_done, self.given(TaskDoneGiven))


def _mark_done(**given: Any) -> TaskDone:
    return mark_done(**{"uid": uuid4(), **given})
