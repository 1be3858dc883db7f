"""What a calendar shows of a visit to a technician, the company or a homeowner. Never a code or a phone number."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from uuid import UUID, uuid5

from django.conf import settings
from django.utils import formats, translation
from django.utils.translation import gettext as _

from jobs.kinds import registry, words
from jobs.models import Hazard, Property
from maintenance.calendar.event import CalendarEvent, EventStatus
from maintenance.models import DueWindow, Visit, VisitTask

LEAST_MINUTES = 15
LAST_MINUTE = time(23, 59)
TASKS_IN_SUMMARY = 3


@dataclass(frozen=True, slots=True)
class Audience:
    """Who reads a feed: its kind, the language of a homeowner, minutes before a visit the reader rings (opted in)."""

    kind: str
    language: str = "en"
    alarm_minutes: int | None = None

    @property
    def key(self) -> str:
        """Names the audience in the kept fragments; at most 20 characters."""
        letters = {"technician": "crew", "company": "all", "homeowner": "home"}[self.kind]
        return "-".join(str(part) for part in (letters, self.language, self.alarm_minutes) if part is not None)


def visit_address(visit_uid: UUID) -> str:
    """The address of a visit for whoever opens it from a calendar; the pages send each role to its own page."""
    return f"{settings.PUBLIC_URL}/v/{visit_uid}/"


def visit_event(visit: Visit, audience: Audience, changed_at: datetime) -> CalendarEvent:
    """The calendar entry of one visit. It needs a day: its own, or the one by which an offer is to be answered.

    `visit` comes with property, tasks with components, offered days, technicians, and the property's hazards present.
    """
    day = (visit.answer_by if _is_offer(visit, audience) else None) or visit.local_date or visit.answer_by
    if day is None:
        raise ValueError(f"visit {visit.uid} has no day to be shown on")
    start, end = (None, None) if _is_offer(visit, audience) else span(visit)
    with translation.override(audience.language):
        return CalendarEvent(
            uid=str(visit.uid),
            revision=visit.revision,
            sequence=visit.sequence,
            last_modified=changed_at,
            created=visit.created_at,
            local_date=day,
            tzid=visit.zone,
            summary=_summary(visit, audience),
            url=visit_address(visit.uid),
            local_start=start,
            local_end=end,
            description=_description(visit, audience),
            location=place_of(visit.property),
            geo=_geo(visit.property),
            status=_status(visit, audience, start),
            categories=(_("Visit"),),
            alarm_minutes=audience.alarm_minutes,
            called_off_prefix=_("Called off: "),
        )


def owner_task_events(
    windows: Iterable[DueWindow], language: str, alarm_minutes: int | None = None
) -> list[CalendarEvent]:
    """The owner's own tasks as whole days, those of one property, day and kind of work in one entry.

    A due window keeps no history, so that an entry never changes: its id is made of everything it says.
    """
    groups: dict[tuple[int, date, str], list[DueWindow]] = {}
    for window in windows:
        groups.setdefault((window.property_id, window.best_on, window.task), []).append(window)
    with translation.override(language):
        return [_owner_event(group, alarm_minutes) for group in groups.values()]


def span(visit: Visit) -> tuple[time | None, time | None]:
    """Local start and end: the arrival span where one was promised, else the minutes on site; none, a whole day."""
    if visit.local_start is None:
        return None, None
    minutes = visit.span_minutes or max(visit.minutes, LEAST_MINUTES)
    begin = datetime.combine(date(2000, 1, 1), min(visit.local_start, time(23, 44)))
    end = begin + timedelta(minutes=minutes)
    return begin.time(), end.time() if end.date() == begin.date() else LAST_MINUTE


def place_of(prop: Property) -> str:
    """The address in one line."""
    return ", ".join(part for part in (prop.address, prop.city, f"{prop.region} {prop.postcode}".strip()) if part)


def _is_offer(visit: Visit, audience: Audience) -> bool:
    return visit.state == Visit.State.OFFERED and audience.kind == "homeowner"


def _status(visit: Visit, audience: Audience, start: time | None) -> EventStatus:
    if visit.state == Visit.State.CALLED_OFF:
        return EventStatus.CANCELLED
    if visit.state in (Visit.State.OFFERED, Visit.State.PROPOSED):
        # The crew had it on this day once; a homeowner is asked.
        return EventStatus.TENTATIVE if audience.kind == "homeowner" else EventStatus.CANCELLED
    if start is None and visit.state == Visit.State.AGREED:
        return EventStatus.TENTATIVE
    return EventStatus.CONFIRMED


def _geo(prop: Property) -> tuple[float, float] | None:
    return None if prop.lat is None or prop.lon is None else (prop.lat, prop.lon)


def _summary(visit: Visit, audience: Audience) -> str:
    address = visit.property.address
    if audience.kind == "homeowner":
        if visit.state == Visit.State.OFFERED:
            return _("Choose a day for your drains at %(address)s") % {"address": address}
        return _("We look after your drains at %(address)s") % {"address": address}
    lines = _task_lines(visit.tasks.all())
    told = "; ".join(lines[:TASKS_IN_SUMMARY]) + ("; …" if len(lines) > TASKS_IN_SUMMARY else "")
    summary = f"{address}: {told}" if told else address
    if audience.kind == "company":
        who = ", ".join(place.user.initials or place.user.display_name for place in visit.technicians.all())
        return f"{who or 'Nobody yet'}: {summary}"
    return summary


def _description(visit: Visit, audience: Audience) -> str:
    if audience.kind == "homeowner":
        return "\n".join(_told_to_homeowner(visit))
    lines = []
    if audience.kind == "technician":
        lines += [_hazard_line(hazard) for hazard in visit.property.present]  # type: ignore[attr-defined]
    lines += _task_lines(visit.tasks.all())
    return "\n".join(lines)


def _task_lines(tasks: Iterable[VisitTask]) -> list[str]:
    """'clean CB-1, CB-2' for each kind of task, in the order of the visit."""
    parts: dict[str, list[str]] = {}
    for task in tasks:
        label = task.component.tag or registry.get(task.component.kind).name
        parts.setdefault(words.TASKS[task.task].words, []).append(label)
    return [f"{what} {', '.join(labels)}" for what, labels in parts.items()]


def _hazard_line(hazard: Hazard) -> str:
    said = f"Hazard: {hazard.get_kind_display()}"
    if hazard.depth_in is not None:
        said += f", {hazard.depth_in:g} in deep"
    return f"{said}. {hazard.note}".strip()


def _told_to_homeowner(visit: Visit) -> list[str]:
    lines: list[str] = []
    if visit.state == Visit.State.OFFERED:
        days = ", ".join(formats.date_format(d.local_date, _("l, j F")) for d in visit.offered_days.all())
        lines.append(_("Days you can choose: %(days)s.") % {"days": days})
    if visit.state == Visit.State.CALLED_OFF:
        return [visit.called_off_why]
    if visit.state == Visit.State.AGREED and visit.local_start is None:
        lines.append(_("The day is agreed; the time is still open."))
    lines += [_("What we will do:")] if visit.state != Visit.State.DONE else [_("What was to be done:")]
    return lines + plain_tasks(visit.tasks.all())


def plain_tasks(tasks: Iterable[VisitTask]) -> list[str]:
    """The tasks of a visit in a homeowner's words, one line a part."""
    return [
        f"- {_(words.TASKS[task.task].plain_words)}: {_(registry.get(task.component.kind).plain_words)}"
        + (f" ({task.component.tag})" if task.component.tag else "")
        for task in tasks
    ]


def _owner_event(group: Sequence[DueWindow], alarm_minutes: int | None) -> CalendarEvent:
    first = group[0]
    prop, component = first.property, first.component
    what = _(words.TASKS[first.task].plain_words)
    tags = ", ".join(w.component.tag for w in group if w.component.tag)
    summary = _("Your own task at %(address)s: %(what)s") % {"address": prop.address, "what": what}
    description = "\n".join(part for part in (f"{what}: {tags}" if tags else "", _(words.OWNER_SAFETY)) if part)
    made = max(w.component.created_at for w in group).replace(microsecond=0)
    says = f"{first.task} {first.best_on} {summary} {description} {prop.zone} {alarm_minutes}"
    return CalendarEvent(
        uid=str(uuid5(component.uid, says)),
        revision=0,
        sequence=0,
        last_modified=made,
        created=made,
        local_date=first.best_on,
        tzid=prop.zone,
        summary=summary,
        url=f"{settings.PUBLIC_URL}/drains/{prop.uid}/",
        description=description,
        location=place_of(prop),
        status=EventStatus.CONFIRMED,
        categories=(_("Your own task"),),
        alarm_minutes=alarm_minutes,
    )
