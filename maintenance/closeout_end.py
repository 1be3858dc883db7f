"""Ends a visit with its closeout: photos, what is odd, the summary, the state, and who is told."""

from collections.abc import Iterator

from django.db.models import Q

from core.dispatch import after_commit
from core.history import record_change
from jobs.edits import raise_revision
from jobs.models import Photo
from maintenance import reminders
from maintenance.closeout_place import grant_sight
from maintenance.closeout_writing import Writing
from maintenance.decide import closeout_values as values
from maintenance.decide import visit_moves
from maintenance.decide.closeout_summary import summarise
from maintenance.models import CallToMake, CloseoutReceived, Visit
from maintenance.visit_change import Step, write_step


def link_photos(work: Writing) -> None:
    """Photos of this closeout belong to its property from now on; named ones that are not here are flagged."""
    named = list(work.body.photos) + [p.photo for p in work.body.parts_replaced if p.photo]
    ours = Q(closeout_uid=work.received.uid) | Q(uid__in=named)
    here = Photo.objects.filter(ours).filter(Q(property=None) | Q(property=work.place.property))
    uids = set(here.values_list("uid", flat=True))
    Photo.objects.filter(uid__in=uids).update(property=work.place.property, closeout_uid=work.received.uid)
    for item in work.body.parts_replaced:
        new = work.yard.by_uid.get(item.new_uid)
        if item.photo in uids and new is not None:
            Photo.objects.filter(uid=item.photo).update(component=new)
    missing = [str(uid) for uid in named if uid not in uids]
    if missing:
        work.flag("photo_missing", f"{len(missing)} photos it names have not come in.", photos=missing[:50])


def flag_times(work: Writing) -> None:
    phone_says = work.body.left_at
    counted = values.corrected(phone_says, work.skew_s, work.received.received_at)
    if counted.why:
        minutes = f"{abs((counted.at - phone_says).total_seconds()) / 60:.0f} min"
        words = f"The phone's clock is wrong: its times are moved by {minutes}."
        if counted.why == "ahead":
            words = f"The phone's times lie {minutes} ahead of the moment it sent them: that moment is taken."
        work.flag("clock_wrong", words, phone=phone_says.isoformat(), counted=counted.at.isoformat())
    if work.received.received_at - counted.at > values.LATE_AFTER:
        days = (work.received.received_at - counted.at).days
        work.flag("late", f"It came in {days} days after the work.", left_at=counted.at.isoformat())
    if not work.body.lids_fastened:
        words = f"Lids or grates were not fastened. {work.body.lids_note}".strip()
        work.flag("lids_open", words, note=work.body.lids_note)
    if work.place.nobody_assigned:
        work.flag("nobody_assigned", f"Nobody was on this visit; {work.place.technician.display_name} closed it.")
    if work.place.visit is None or work.visit.state == Visit.State.DONE:
        return
    odd = visit_moves.closeout_finds(work.visit.state, local_date=work.visit.local_date, worked_on=work.worked_on)
    for code, words in odd:
        work.flag(code, words, state=work.visit.state, day=str(work.visit.local_date), worked_on=str(work.worked_on))


def end_visit(work: Writing) -> None:
    """The visit is done; the homeowner is told once, with the first closeout."""
    act, visit, closeout = work.act, work.visit, work.closeout
    follow_up = bool(work.body.follow_up or work.body.extra_tasks)
    closeout.summary = summarise(
        on=work.worked_on,
        tasks=work.tasks_told,
        parts=work.parts_told,
        hazards=len(work.body.hazards_found),
        lids_fastened=work.body.lids_fastened,
        nobody_home=work.body.nobody_home,
        follow_up=follow_up,
    )
    closeout.save(update_fields=["summary"])
    newly = visit.state != Visit.State.DONE
    fields: dict[str, object] = {"called_off_why": ""}
    if newly:
        fields |= {"ended_at": closeout.left_at, "begun_at": visit.begun_at or closeout.arrived_at or closeout.left_at}
    if visit.local_date is None:
        fields["local_date"] = work.worked_on
    write_step(act=act, row=visit, step=Step("close_out", Visit.State.DONE, fields=fields))
    visit.refresh_from_db()
    received = work.received
    received.state, received.state_note = CloseoutReceived.State.APPLIED, ""
    received.visit, received.property, received.skew_s = visit, work.place.property, work.skew_s
    received.save(update_fields=["state", "state_note", "visit", "property", "skew_s"])
    grant_sight(act, work.place)
    if follow_up:
        _wish_follow_up(work)
    record_change(
        act=act,
        noun="closeout",
        uid=closeout.uid,
        action="apply",
        after={"visit": str(visit.uid), "technician": work.by, "tasks": len(work.tasks_told)},
        property_uid=work.place.property.uid,
    )
    raise_revision(work.place.property.pk)
    if newly:
        extra = {"found": closeout.summary["lines"], "summary": closeout.summary, "closeout": str(closeout.uid)}
        reminders.queue_occasion(act=act, occasion="done", visit=visit, extra=extra)
    after_commit("maintenance.tasks.refresh_property", work.place.property.pk)


def _wish_follow_up(work: Writing) -> None:
    CallToMake.objects.get_or_create(
        key=f"follow_up:{work.closeout.uid}",
        defaults={
            "property": work.place.property,
            "visit": work.visit,
            "reason": CallToMake.Reason.FOLLOW_UP,
            "note": "; ".join(_wishes(work))[:400],
            "since": work.act.at,
        },
    )


def _wishes(work: Writing) -> Iterator[str]:
    if work.body.follow_up:
        yield work.body.follow_up
    for item in work.body.extra_tasks:
        part = work.yard.named(item.component, item.tag) if item.component or item.tag else None
        yield " ".join(str(word) for word in (item.task, part, item.note) if word)
