"""Writes the demo's past visits with their closeouts, readings and replaced parts, each recorded on its own day."""

import json
from datetime import date, datetime, timedelta
from hashlib import sha256

from core import normalise
from jobs.component_versions import version_data
from jobs.kinds import words
from jobs.models import Component, ComponentVersion, Connection, PropertyAccess
from maintenance.decide.closeout_summary import PartTold, TaskTold, summarise
from maintenance.demo.register import ZONE, Written, moment, uid
from maintenance.demo.years import PastTask, PastVisit
from maintenance.models import (
    Closeout,
    CloseoutReceived,
    Reading,
    TaskDone,
    Visit,
    VisitTask,
    VisitTechnician,
)


def write_past(visits: list[PastVisit], written: Written) -> None:
    """All of it in one pass; `visits` oldest first for each house."""
    rows = _Rows(written)
    for visit in visits:
        rows.add(visit)
    rows.save()


class _Rows:
    """Rows waiting to be written in bulk."""

    def __init__(self, written: Written) -> None:
        self.written = written
        self.visits: list[Visit] = []
        self.people: list[VisitTechnician] = []
        self.tasks: list[VisitTask] = []
        self.received: list[CloseoutReceived] = []
        self.closeouts: list[Closeout] = []
        self.readings: list[Reading] = []
        self.done: list[TaskDone] = []
        self.access: dict[tuple[int, int], PropertyAccess] = {}

    def part(self, visit: PastVisit, key: str) -> Component:
        return self.written.parts[visit.house, visit.system, key]

    def add(self, past: PastVisit) -> None:
        """One visit with everything that came of it."""
        prop, user = self.written.properties[past.house], self.written.crew[past.technician]
        left = moment(past.on, 18)
        visit = Visit(
            uid=uid("visit", past.house, past.system, past.on),
            property=prop,
            state=Visit.State.DONE,
            local_date=past.on,
            zone=ZONE,
            starts_at=left - timedelta(minutes=past.minutes),
            minutes=past.minutes,
            place_in_day=1,
            no_later_than=past.on - timedelta(days=past.late_days),
            agreed_at=left - timedelta(days=9),
            offered_at=left - timedelta(days=12),
            begun_at=left - timedelta(minutes=past.minutes),
            ended_at=left,
            sequence=3,
            revision=4,
            created_at=left - timedelta(days=20),
            changed_at=left,
        )
        self.visits.append(visit)
        self.people.append(VisitTechnician(visit=visit, user=user))
        self.access.setdefault(
            (past.house, past.technician), PropertyAccess(property=prop, user=user, reason="visit", since=left)
        )
        closeout = self._closeout(past, visit, user, left)
        for task in past.tasks:
            self._task(past, visit, closeout, task, f"user:{user.uid}", left)
        for reading in past.readings:
            part = self.part(past, reading.key)
            self.readings.append(
                Reading(
                    uid=uid("reading", visit.uid, reading.key, reading.code),
                    component=part,
                    code=reading.code,
                    value=reading.value,
                    unit=reading.unit,
                    canonical=reading.value,
                    grade=reading.grade,
                    measured_at=left - timedelta(minutes=20),
                    recorded_at=left,
                    measured_by=f"user:{user.uid}",
                    entered_by=f"user:{user.uid}",
                    closeout=closeout,
                )
            )
        if past.replaces:
            self._replace(past, left)

    def _task(self, past: PastVisit, visit: Visit, closeout: Closeout, task: PastTask, by: str, at: datetime) -> None:
        part = self.part(past, task.key)
        plain = words.TASKS[task.task].words
        self.tasks.append(
            VisitTask(
                uid=uid("task", visit.uid, task.key, task.task),
                visit=visit,
                component=part,
                task=task.task,
                words=f"{plain.partition(',')[0]} {part.tag or part.kind}".strip(),
                minutes=10,
                outcome=task.outcome,
                reason=task.reason,
            )
        )
        self.done.append(
            TaskDone(
                uid=uid("done", visit.uid, task.key, task.task),
                component=part,
                task=task.task,
                outcome=task.outcome,
                reason=task.reason,
                done_on=past.on,
                recorded_at=at,
                left_fill=task.left_fill if task.task == "clean" and task.outcome == "done" else None,
                by=by,
                closeout=closeout,
            )
        )

    def _closeout(self, past: PastVisit, visit: Visit, user, left: datetime) -> Closeout:
        body = self._body(past, visit, left)
        received = CloseoutReceived(
            uid=uid("closeout", visit.uid),
            digest=sha256(body).hexdigest(),
            body=body,
            sender=user,
            received_at=left,
            phone_at=left,
            skew_s=0.0,
            via="demo",
            state=CloseoutReceived.State.APPLIED,
            visit=visit,
            property=visit.property,
        )
        self.received.append(received)
        told = [
            TaskTold(
                self.part(past, t.key).kind,
                self.part(past, t.key).tag,
                t.task,
                t.outcome,
                t.reason,
                t.found_fill,
                t.left_fill,
            )
            for t in past.tasks
        ]
        parts = []
        if past.replaces:
            old = self.part(past, past.replaces[0])
            parts.append(PartTold(old.kind, old.tag, past.replaces[1]))
        closeout = Closeout(
            uid=received.uid,
            received=received,
            visit=visit,
            technician=user,
            arrived_at=left - timedelta(minutes=past.minutes),
            left_at=left,
            lids_fastened=True,
            applied_at=left,
            summary=summarise(
                on=past.on,
                tasks=told,
                parts=parts,
                hazards=0,
                lids_fastened=True,
                nobody_home=False,
                follow_up=False,
            ),
        )
        self.closeouts.append(closeout)
        return closeout

    def _body(self, past: PastVisit, visit: Visit, left: datetime) -> bytes:
        """The closeout as a phone would have sent it."""
        name = lambda key: str(self.part(past, key).uid)  # noqa: E731
        content = {
            "version": 1,
            "uid": str(uid("closeout", visit.uid)),
            "visit": str(visit.uid),
            "arrived_at": (left - timedelta(minutes=past.minutes)).isoformat(),
            "left_at": left.isoformat(),
            "lids_fastened": True,
            "tasks": [
                {"component": name(t.key), "task": t.task, "outcome": t.outcome, "reason": t.reason}
                | ({"left_fill": t.left_fill} if t.left_fill is not None else {})
                for t in past.tasks
            ],
            "readings": [
                {"component": name(r.key), "code": r.code}
                | ({"grade": r.grade} if r.grade else {"value": r.value, "unit": r.unit})
                for r in past.readings
            ],
        }
        return json.dumps(content, separators=(",", ":")).encode()

    def _replace(self, past: PastVisit, at: datetime) -> None:
        """The failed pump: retired, its successor takes tag, connections and place."""
        assert past.replaces is not None
        key, why = past.replaces
        old = self.part(past, key)
        old.retired_on, old.retired_reason = past.on, why
        old.retired_because = Component.End.WORN
        old.save(update_fields=["retired_on", "retired_reason", "retired_because"])
        new = Component(
            uid=uid("successor", old.uid),
            property=old.property,
            system=old.system,
            kind=old.kind,
            kind_version=old.kind_version,
            tag=old.tag,
            tag_key=normalise.tag_key(old.tag),
            name="1/2 hp effluent pump",
            dimensions=old.dimensions,
            certainty=old.certainty,
            sits_in=old.sits_in,
            place=old.place,
            place_certainty=old.place_certainty,
            installed_on=past.on,
            created_at=at,
        )
        new.save()
        old.successor = new
        old.save(update_fields=["successor"])
        Component.objects.filter(part_of=old).update(part_of=new)
        Connection.objects.filter(from_component=old).update(from_component=new)
        Connection.objects.filter(to_component=old).update(to_component=new)
        parts = [
            old,
            new,
            *Component.objects.filter(part_of=new).select_related("property", "system", "sits_in", "part_of"),
        ]
        ComponentVersion.objects.bulk_create(
            ComponentVersion(component=part, recorded_at=at, data=version_data(part)) for part in parts
        )
        self.written.parts[past.house, past.system, key] = new

    def save(self) -> None:
        """Write all rows, parents first."""
        Visit.objects.bulk_create(self.visits, batch_size=400)
        VisitTechnician.objects.bulk_create(self.people, batch_size=400)
        VisitTask.objects.bulk_create(self.tasks, batch_size=400)
        CloseoutReceived.objects.bulk_create(self.received, batch_size=400)
        Closeout.objects.bulk_create(self.closeouts, batch_size=400)
        Reading.objects.bulk_create(self.readings, batch_size=400)
        TaskDone.objects.bulk_create(self.done, batch_size=400)
        PropertyAccess.objects.bulk_create(self.access.values(), batch_size=400)


def write_owner_tasks(house: int, rows: list[tuple[int, str, str, date]], written: Written) -> None:
    """What the owner of one house did, as marked on their page."""
    role = written.properties[house].roles.order_by("id").first()
    if role is None:
        return
    TaskDone.objects.bulk_create(
        TaskDone(
            uid=uid("owner", house, index, key, task),
            component=written.parts[house, index, key],
            task=task,
            outcome="done",
            done_on=day,
            recorded_at=moment(day, 20),
            by=f"customer:{role.customer.uid}",
        )
        for index, key, task, day in rows
    )
