"""Opens jobs of construction and moves them from stage to stage; each stage reached is kept as a JobStep."""

from typing import Any, Final
from uuid import UUID

from django.db import transaction
from django.db.models import F

from core import clock
from core.act import Act
from core.history import record_change
from core.problem import BadInput, Conflict
from jobs import field_checks as checks
from jobs.edits import change_if_unchanged, create_once, raise_revision
from jobs.models import Job, JobStep, Property, System
from jobs.register import change_system, refuse_with_errors

Stage = Job.Stage
MOVES: Final[dict[str, tuple[str, ...]]] = {
    Stage.ASKED: (Stage.MEASURED, Stage.TURNED_DOWN),
    Stage.MEASURED: (Stage.PRICED, Stage.TURNED_DOWN),
    Stage.PRICED: (Stage.ACCEPTED, Stage.TURNED_DOWN),
    Stage.ACCEPTED: (Stage.DIGGING, Stage.TURNED_DOWN),
    Stage.DIGGING: (Stage.IN_SERVICE,),
    Stage.IN_SERVICE: (),
    Stage.TURNED_DOWN: (),
}
"""Where a job may go from each stage."""

JOB: dict[str, checks.Check] = {
    "kind": checks.one_of(Job.Kind.values),
    "title": checks.line(120, required=True),
    "system": checks.record_of(System),
    "note": checks.note(),
    "waits_for": checks.line(120),
    "price_cents": checks.whole(0, 1_000_000_000, "cents"),
    "locate_number": checks.line(40),
    "locate_asked_on": checks.day(),
    "starts_on": checks.day(),
}


def open_job(*, act: Act, property: Property, kind: str, title: str, uid: UUID | None = None, **fields: Any) -> Job:
    """Record that someone asked for an install, an extension or a repair; fields: JOB above."""
    values = checks.cleaned("job", JOB, {"kind": kind, "title": title, **fields})
    _refuse_elsewhere(property, values)
    with transaction.atomic():
        made, new = create_once(
            Job,
            act=act,
            noun="job",
            uid=uid,
            values={"property": property, **values},
            derived={"created_at": act.at},
            at_property=property,
        )
        if new:
            JobStep.objects.create(job=made, stage=made.stage, at=act.at, who=act.who)
            raise_revision(property.pk)
    return made


def change_job(*, act: Act, job: Job, revision: int, **fields: Any) -> Job:
    """Change the given fields (not the stage) if the job still has `revision`. Raises BadInput, StaleVersion."""
    values = checks.cleaned("job", JOB, fields)
    _refuse_elsewhere(job.property, values)
    with transaction.atomic():
        present, changed = change_if_unchanged(
            job, act=act, noun="job", revision=revision, values=values, property_uid=job.property.uid
        )
        if changed:
            raise_revision(job.property_id)
    return present


def _refuse_elsewhere(property: Property, values: dict[str, Any]) -> None:
    system = values.get("system")
    if system is not None and system.property_id != property.pk:
        checks.refuse_field("system", f"system {system} is not at {property}.", str(system))


def move_job(*, act: Act, job: Job, stage: str, note: str = "") -> Job:
    """Move a job to its next stage, or turn it down. Moving it to where it is changes nothing.

    Digging wants a locate number, or a note that says why there is none. In service sets the day the system was
    installed where none is recorded, and is refused while the checks of a system of ours find errors.
    Raises BadInput, Conflict (that move is not possible, or someone else moved it first).
    """
    asked = checks.cleaned(
        "job", {"stage": checks.one_of(Stage.values), "note": checks.line(400)}, {"stage": stage, "note": note}
    )
    with transaction.atomic():
        present = Job.objects.select_related("property", "system").get(pk=job.pk)
        if present.stage == stage:
            return present
        _refuse_move(present, stage)
        if stage == Stage.DIGGING and not present.locate_number and not asked["note"]:
            words = "Give the utility-locate number first, or say in the note why there is none, before digging."
            checks.refuse_field("locate_number", words)
        if stage == Stage.IN_SERVICE:
            _put_in_service(act, present)
        _write_move(act, present, stage, asked["note"])
    present.refresh_from_db()
    return present


def _refuse_move(job: Job, stage: str) -> None:
    if stage in MOVES[job.stage]:
        return
    words = {code: str(label) for code, label in Stage.choices}
    ways = " or ".join(words[code] for code in MOVES[job.stage])
    then = f"from there it goes to {ways}" if ways else "it goes no further"
    raise Conflict(f"This job is {words[job.stage]}: {then}, not to {words[stage]}.", code="move_not_allowed")


def _put_in_service(act: Act, job: Job) -> None:
    system = job.system
    if system is None:
        if job.kind == Job.Kind.REPAIR:
            return
        raise BadInput(f"Say which system this {job.kind} made, before it goes into service.", code="system_missing")
    if system.ours:
        refuse_with_errors(system, "put in service")
    if system.installed_on is None:
        today = clock.local_date(act.at, job.property.zone)
        change_system(act=act, system=system, revision=system.revision, installed_on=today)


def _write_move(act: Act, job: Job, stage: str, note: str) -> None:
    before = {"stage": job.stage, "waits_for": job.waits_for}
    moved = Job.objects.filter(pk=job.pk, stage=job.stage).update(stage=stage, waits_for="", revision=F("revision") + 1)
    if not moved:
        raise Conflict("Someone else moved this job first: look again.", code="moved_meanwhile")
    JobStep.objects.create(job=job, stage=stage, at=act.at, who=act.who, note=note)
    record_change(
        act=act,
        noun="job",
        uid=job.uid,
        action="change",
        before=before,
        after={"stage": stage, "waits_for": ""},
        property_uid=job.property.uid,
        note=note,
    )
    raise_revision(job.property_id)
