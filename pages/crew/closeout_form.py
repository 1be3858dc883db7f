"""The closeout as a form: one block a part with its tasks and readings, as the kinds ask for them, and the JSON body.

The body is made of the form alone, so that the same form sent twice is the same closeout.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from jobs.kinds import registry, words
from jobs.kinds.base import ReadingAsked
from maintenance.calendar.zones import local_instant
from maintenance.models import Visit, VisitTask

YES_NO = (("yes", gettext_lazy("yes")), ("no", gettext_lazy("no")))
CHARACTERS = 4000
CHOOSE = gettext_lazy("Choose one of these.")
LESS_ASKED = frozenset({"inflow_rise_in", "inflow_seconds", "starts_counted", "run_hours_counted", "note"})
"""Readings that are folded away: wanted only where water runs in, a counter is fitted, or there is more to say."""


@dataclass(frozen=True, slots=True)
class ReadingShown:
    """A reading's field with what stands beside it."""

    field: BoundField
    type: str
    unit: str
    limits: str


@dataclass(frozen=True, slots=True)
class Block:
    """One part: its tasks (words, outcome, reason), its checklist and the readings asked for."""

    title: str
    name: str
    checklist: tuple[str, ...]
    tasks: tuple[tuple[str, BoundField, BoundField], ...]
    readings: tuple[ReadingShown, ...]
    more: tuple[ReadingShown, ...]

    @property
    def more_is_open(self) -> bool:
        """What is filled in or wrong is not hidden."""
        return any(shown.field.errors or shown.field.value() for shown in self.more)


class CloseoutForm(forms.Form):
    """Fields of every closeout; the visit's tasks and their readings are added when it is made."""

    uid = forms.UUIDField(widget=forms.HiddenInput)
    day = forms.DateField(widget=forms.HiddenInput)
    arrived = forms.TimeField(label=gettext_lazy("Arrived"), widget=forms.TimeInput({"type": "time"}, format="%H:%M"))
    left = forms.TimeField(label=gettext_lazy("Leaving"), widget=forms.TimeInput({"type": "time"}, format="%H:%M"))
    lids = forms.ChoiceField(
        label=gettext_lazy(words.LIDS_BACK),
        choices=YES_NO,
        widget=forms.RadioSelect,
        error_messages={"required": CHOOSE},
    )
    lids_note = forms.CharField(label=gettext_lazy("If not: which, and what was done"), max_length=400, required=False)
    nobody_home = forms.BooleanField(label=gettext_lazy("Nobody was home"), required=False)
    note = forms.CharField(
        label=gettext_lazy("Note for the office and the next crew"),
        max_length=CHARACTERS,
        required=False,
        widget=forms.Textarea({"rows": 3}),
    )
    follow_up = forms.CharField(
        label=gettext_lazy("Something wants doing another time"), max_length=400, required=False
    )

    def __init__(self, visit: Visit, data: Mapping[str, Any] | None = None, **more: Any) -> None:
        super().__init__(data, **more)
        self.visit = visit
        self.tasks: list[VisitTask] = list(visit.tasks.select_related("component__part_of").order_by("id"))
        for task in self.tasks:
            self._add_task(task)
        for (part, asked), name in self._asked().items():
            self.fields[name] = _reading_field(asked)
            self.fields[name].label = _(asked.words)
            self._readings[name] = (part, asked)

    def _add_task(self, task: VisitTask) -> None:
        key = task.uid.hex
        outcomes = [(code, _(text)) for code, text in words.OUTCOMES.items()]
        self.fields[f"outcome_{key}"] = forms.ChoiceField(
            choices=outcomes, widget=forms.RadioSelect, error_messages={"required": CHOOSE}
        )
        reasons = [("", "")] + [(code, _(text)) for code, text in words.COULD_NOT_REASONS.items()]
        label = _("Why it could not be done")
        self.fields[f"reason_{key}"] = forms.ChoiceField(choices=reasons, required=False, label=label)

    def _asked(self) -> dict[tuple[UUID, ReadingAsked], str]:
        """Readings in the order of the kind, each once a part, with the name of its field."""
        self._readings: dict[str, tuple[UUID, ReadingAsked]] = {}
        names = {}
        for task in self.tasks:
            for asked in registry.get(task.component.kind).readings:
                if task.task in asked.tasks:
                    names[task.component.uid, asked] = f"reading_{task.component.uid.hex}_{asked.code}"
        return names

    def times(self) -> list[BoundField]:
        """When they came and went."""
        return [self["arrived"], self["left"]]

    def rest(self) -> list[BoundField]:
        """What is asked at the end."""
        return [self["note"], self["follow_up"]]

    def blocks(self) -> list[Block]:
        """The parts in the order of the visit."""
        found: dict[UUID, list[VisitTask]] = {}
        for task in self.tasks:
            found.setdefault(task.component.uid, []).append(task)
        return [self._block(tasks) for tasks in found.values()]

    def _block(self, tasks: list[VisitTask]) -> Block:
        part = tasks[0].component
        kind = registry.get(part.kind)
        tag = part.tag or (part.part_of.tag if part.part_of else "")
        return Block(
            title=f"{tag}, {kind.name}" if tag else kind.name,
            name=part.name,
            checklist=tuple(_(line) for line in kind.checklist),
            tasks=tuple(
                (_(words.TASKS[t.task].words), self[f"outcome_{t.uid.hex}"], self[f"reason_{t.uid.hex}"]) for t in tasks
            ),
            readings=self._shown(part.uid, less=False),
            more=self._shown(part.uid, less=True),
        )

    def _shown(self, part: UUID, *, less: bool) -> tuple[ReadingShown, ...]:
        return tuple(
            ReadingShown(self[name], asked.type, _unit_beside(asked), _limits(asked))
            for name, (uid, asked) in self._readings.items()
            if uid == part and (asked.code in LESS_ASKED) == less
        )

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        for task in self.tasks:
            key = task.uid.hex
            if given.get(f"outcome_{key}") == "could_not" and not given.get(f"reason_{key}"):
                self.add_error(f"reason_{key}", _("Say why it could not be done."))
        if given.get("lids") == "no" and not given.get("lids_note"):
            self.add_error("lids_note", _("Say which lid or grate is open, and how it was made safe."))
        if given.get("arrived") and given.get("left") and given["left"] < given["arrived"]:
            self.add_error("left", _("This is earlier than the arrival."))
        return given

    def body(self) -> bytes:
        """The closeout as JSON, version 1 (maintenance/decide/closeout_meaning.py). Call it on a valid form."""
        given = self.cleaned_data
        zone = ZoneInfo(self.visit.property.zone)
        told = {
            "version": 1,
            "uid": str(given["uid"]),
            "visit": str(self.visit.uid),
            "arrived_at": _instant(given["day"], given["arrived"], zone),
            "left_at": _instant(given["day"], given["left"], zone),
            "lids_fastened": given["lids"] == "yes",
            "lids_note": given["lids_note"],
            "tasks": [self._task_told(task) for task in self.tasks],
            "readings": [
                _reading_told(uid, asked, given[name])
                for name, (uid, asked) in self._readings.items()
                if given[name] not in (None, "")
            ],
            "nobody_home": given["nobody_home"],
            "note": given["note"],
            "follow_up": given["follow_up"],
        }
        return json.dumps(told, sort_keys=True, ensure_ascii=False, separators=(",", ":")).encode()

    def _task_told(self, task: VisitTask) -> dict[str, str]:
        outcome = self.cleaned_data[f"outcome_{task.uid.hex}"]
        reason = self.cleaned_data[f"reason_{task.uid.hex}"] if outcome == "could_not" else ""
        return {"component": str(task.component.uid), "task": task.task, "outcome": outcome, "reason": reason}


def _reading_field(asked: ReadingAsked) -> forms.Field:
    if asked.type == "number":
        widget = forms.NumberInput({"inputmode": "decimal", "step": "any", "autocomplete": "off"})
        return forms.FloatField(min_value=asked.low, max_value=asked.high, required=False, widget=widget)
    if asked.type == "grade":
        grades = [("", _("not judged"))] + [(grade.code, _(grade.words)) for grade in words.GRADES.values()]
        return forms.ChoiceField(choices=grades, required=False)
    if asked.type == "yes_no":
        return forms.ChoiceField(choices=[("", _("not looked at")), *YES_NO], required=False)
    return forms.CharField(max_length=400, required=False)


def _limits(asked: ReadingAsked) -> str:
    if asked.type != "number" or asked.low is None or asked.high is None:
        return ""
    return _("%(low)s to %(high)s %(unit)s") % {
        "low": f"{asked.low:,g}" if asked.low < 1 else f"{asked.low:,.0f}",
        "high": f"{asked.high:,.0f}",
        "unit": asked.unit,
    }


def _unit_beside(asked: ReadingAsked) -> str:
    return asked.unit if len(asked.unit) <= 2 else ""


def _reading_told(component: UUID, asked: ReadingAsked, value: Any) -> dict[str, Any]:
    told: dict[str, Any] = {"component": str(component), "code": asked.code}
    if asked.type == "number":
        return {**told, "value": value, "unit": asked.unit}
    if asked.type == "grade":
        return {**told, "grade": value}
    if asked.type == "yes_no":
        return {**told, "value": value == "yes"}
    return {**told, "text": value}


def _instant(day: date, at: time, zone: ZoneInfo) -> str:
    moment: datetime = local_instant(day, at, zone)
    return moment.isoformat()
