"""Filters that put codes and numbers into words on the office's pages."""

from datetime import timedelta

from django import template

from jobs.kinds import registry, words

register = template.Library()


@register.filter
def dollars(cents: int) -> str:
    """'$1,234.50' for 123450 cents."""
    return f"${cents // 100:,}.{cents % 100:02d}"


@register.filter
def hours(minutes: int) -> str:
    """'3 h 20 min' for 200; '40 min' under an hour."""
    whole, rest = divmod(int(minutes), 60)
    return f"{whole} h {rest} min" if whole and rest else f"{whole} h" if whole else f"{rest} min"


@register.filter
def kind_words(code: str) -> str:
    """'catch basin' for the code of a kind."""
    kind = registry.BY_CODE.get(code)
    return kind.name if kind else code


@register.filter
def office_task(code: str) -> str:
    """'test pump' for the code of a task."""
    task = words.TASKS.get(code)
    return task.words if task else code


@register.filter
def inches(millimetres: float) -> str:
    """'1.5 in' for 38.1 mm."""
    return f"{millimetres / 25.4:.1f} in"


@register.filter
def minutes_of(span: timedelta) -> int:
    """Whole minutes of a span."""
    return int(span.total_seconds() // 60)


@register.filter
def unbroken(text: str) -> str:
    """The same with hyphens that do not end a line, so that a tag stays whole."""
    return text.replace("-", "\u2011")
