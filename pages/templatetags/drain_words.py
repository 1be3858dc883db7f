"""Filters that put codes and numbers into words on the pages of homeowners and crew."""

from typing import Any

from django import template
from django.utils.translation import gettext as _

from jobs.kinds import words
from maintenance.messages import render

register = template.Library()


@register.filter
def task_words(code: str) -> str:
    """'clean' for the code of a task, in the active language; the code itself where it is not known."""
    task = words.TASKS.get(code)
    return _(task.words) if task else code


@register.filter
def outcome_words(code: str) -> str:
    """'found fine, nothing needed' for the code of an outcome."""
    return _(words.OUTCOMES[code]) if code in words.OUTCOMES else code


@register.filter
def arrival(visit: Any) -> str:
    """'between 9:00 and 11:00', 'at 9:00' or '' for anything with local_start and span_minutes."""
    return render.span(visit.local_start, visit.span_minutes)


@register.filter
def from_corner(thing: Any) -> str:
    """'4 ft east, 6 ft south of the corner' for anything with x_ft and y_ft; '' where either is unknown."""
    if thing.x_ft is None or thing.y_ft is None:
        return ""
    east = _("%(ft)s ft east") if thing.x_ft >= 0 else _("%(ft)s ft west")
    north = _("%(ft)s ft north") if thing.y_ft >= 0 else _("%(ft)s ft south")
    return _("%(across)s, %(along)s of the corner") % {
        "across": east % {"ft": f"{abs(thing.x_ft):g}"},
        "along": north % {"ft": f"{abs(thing.y_ft):g}"},
    }
