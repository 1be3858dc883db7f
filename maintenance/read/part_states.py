"""How each part was last found, in plain words: from readings, cleanings and tests, whichever is newest."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from django.db.models import OuterRef, QuerySet, Subquery
from django.utils import formats
from django.utils.translation import gettext as _

from jobs.kinds import registry, words
from jobs.models import Component
from maintenance.decide.closeout_summary import fill_words
from maintenance.decide.closeout_values import known_dimensions, silt_height_in
from maintenance.models import Reading, TaskDone

CLEANINGS = ("clean", "flush")
SILT_CODES = ("silt_depth_in", "grade")
COVERED = {
    "clean": "clear",
    "quarter": "a quarter covered",
    "half": "half covered",
    "three_quarters": "three quarters covered",
    "full": "covered",
    "overflowing": "covered",
}
"""A grate's grade is its blocked share."""


@dataclass(frozen=True, slots=True)
class PartState:
    """One part with its state in words, "" where nothing was ever found; `fill` 0 clean to 1 full, None unknown."""

    component: Component
    plain_words: str
    words: str
    on: date | None
    fill: float | None


def day_words(day: date) -> str:
    """'3 May 2026' in the active language."""
    return formats.date_format(day, "j F Y")


def of(components: QuerySet[Component], zone: str) -> list[PartState]:
    """The states of these components, in their order. Five queries, however many there are."""
    rows = list(components.annotate(found=Subquery(_newest_reading()), cleaned=_newest_done(CLEANINGS), tested=_test()))
    readings = Reading.objects.in_bulk([row.found for row in rows if row.found])
    done = TaskDone.objects.in_bulk([key for row in rows for key in (row.cleaned, row.tested) if key])
    own_zone = ZoneInfo(zone)
    return [_state(row, readings.get(row.found), done.get(row.cleaned), done.get(row.tested), own_zone) for row in rows]


def _newest_reading() -> QuerySet:
    rows = Reading.objects.filter(
        component=OuterRef("pk"), code__in=SILT_CODES, moment="before", withdraws=None, withdrawn_by=None
    )
    return rows.order_by("-measured_at", "-id").values("pk")[:1]


def _newest_done(tasks: Sequence[str]) -> Subquery:
    rows = TaskDone.objects.filter(component=OuterRef("pk"), task__in=tasks, outcome="done")
    return Subquery(rows.order_by("-done_on", "-id").values("pk")[:1])


def _test() -> Subquery:
    rows = TaskDone.objects.filter(
        component=OuterRef("pk"), task__startswith="test_", outcome__in=("done", "found_fine")
    )
    return Subquery(rows.order_by("-done_on", "-id").values("pk")[:1])


def _state(
    part: Component, reading: Reading | None, cleaned: TaskDone | None, tested: TaskDone | None, zone: ZoneInfo
) -> PartState:
    kind = registry.get(part.kind)
    plain = _(kind.plain_words)
    found_on = reading.measured_at.astimezone(zone).date() if reading else None
    if cleaned is not None and (found_on is None or cleaned.done_on >= found_on):
        return PartState(part, plain, _cleaned_words(cleaned), cleaned.done_on, cleaned.left_fill)
    if reading is not None and found_on is not None:
        told, fill = _found_words(part, reading, found_on)
        return PartState(part, plain, told, found_on, fill)
    if tested is not None:
        told = _("tested on %(day)s, it worked") % {"day": day_words(tested.done_on)}
        return PartState(part, plain, told, tested.done_on, None)
    if part.installed_on is not None:
        told = _("in place since %(day)s, nothing found yet") % {"day": day_words(part.installed_on)}
        return PartState(part, plain, told, None, None)
    return PartState(part, plain, "", None, None)


def _cleaned_words(cleaned: TaskDone) -> str:
    day = day_words(cleaned.done_on)
    if cleaned.left_fill is None or cleaned.left_fill < 0.01:
        return _("cleaned on %(day)s") % {"day": day}
    return _("cleaned on %(day)s and left %(fill)s") % {"day": day, "fill": _(fill_words(cleaned.left_fill))}


def _found_words(part: Component, reading: Reading, on: date) -> tuple[str, float | None]:
    day = day_words(on)
    if reading.grade:
        grade = words.GRADES[reading.grade]
        if part.kind == "grate":
            told = _("%(grade)s, judged by eye on %(day)s") % {"grade": _(COVERED[grade.code]), "day": day}
        elif grade.code in ("clean", "overflowing"):
            told = _("%(grade)s, judged by eye on %(day)s") % {"grade": _(grade.words), "day": day}
        else:
            told = _("%(grade)s of silt, judged by eye on %(day)s") % {"grade": _(grade.words), "day": day}
        return told, (grade.low + (grade.high or grade.low)) / 2
    depth = reading.canonical or 0.0
    fill = _fill(part, depth)
    if fill is None:
        return _("%(depth)s in of silt, measured on %(day)s") % {"depth": f"{depth:g}", "day": day}, None
    told = _("%(fill)s: %(depth)s in of silt, measured on %(day)s")
    return told % {"fill": _(fill_words(fill)), "depth": f"{depth:g}", "day": day}, fill


def _fill(part: Component, depth_in: float) -> float | None:
    kind = registry.get(part.kind)
    height = silt_height_in(kind, known_dimensions(kind, part.dimensions, part.certainty, part.kind_version))
    return depth_in / height if height else None
