"""What each message says, in plain words, in the person's language. One wording serves text and HTML."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, time

from django.template.loader import render_to_string
from django.utils import formats, translation
from django.utils.translation import gettext as _

from core.company import Company
from jobs.kinds import registry
from jobs.kinds.words import TASKS
from maintenance.messages import links


@dataclass(frozen=True, slots=True)
class Chore:
    """One thing to do to one part, by code; `told` are the rule's own words for a homeowner, where it has some."""

    task: str
    kind: str
    tag: str
    told: str = ""


@dataclass(frozen=True, slots=True)
class VisitFacts:
    """What a message about a visit may say. No gate code, no phone number of anyone but the company."""

    address: str
    local_date: date | None
    local_start: time | None
    span_minutes: int | None
    tasks: tuple["Chore", ...]
    offered: tuple[date, ...] = ()
    answer_by: date | None = None
    why: str = ""
    found: tuple[str, ...] = ()
    next_words: str = ""


@dataclass(frozen=True, slots=True)
class Wording:
    """A message before it is laid out: heading, paragraphs, lists with a title, one button."""

    subject: str
    lines: tuple[str, ...]
    lists: tuple[tuple[str, tuple[str, ...]], ...] = ()
    button: str = ""
    caution: str = ""


def day(value: date) -> str:
    """'Thursday, 26 November' in the active language."""
    return formats.date_format(value, _("l, j F"))


def span(start: time | None, minutes: int | None) -> str:
    """'between 9:00 and 11:00', 'at 9:00' or ''."""
    if start is None:
        return ""
    begin = formats.time_format(start, "G:i")
    if not minutes:
        return _("at %(begin)s") % {"begin": begin}
    total = start.hour * 60 + start.minute + minutes
    end = formats.time_format(time(min(total // 60, 23), total % 60 if total < 1440 else 59), "G:i")
    return _("between %(begin)s and %(end)s") % {"begin": begin, "end": end}


def _day_and_time(facts: VisitFacts) -> str:
    told = day(facts.local_date) if facts.local_date else _("a day still to be agreed")
    return " ".join(part for part in (told, span(facts.local_start, facts.span_minutes)) if part)


def chores(facts: VisitFacts) -> tuple[str, ...]:
    """Each kind of work once, with the parts it is for: 'A pump-down test: the pump (PU-1)'."""
    parts: dict[str, list[str]] = {}
    for chore in facts.tasks:
        plain = _(TASKS[chore.task].plain_words) if chore.task in TASKS else chore.task
        what = _(chore.told) if chore.told else f"{plain[:1].upper()}{plain[1:]}"
        part = _(registry.BY_CODE[chore.kind].plain_words) if chore.kind in registry.BY_CODE else chore.kind
        parts.setdefault(what, []).append(f"{part} ({chore.tag})" if chore.tag else part)
    return tuple(f"{what.rstrip('.')}: {', '.join(dict.fromkeys(where))}" for what, where in parts.items())


def _work(facts: VisitFacts) -> tuple[tuple[str, tuple[str, ...]], ...]:
    return ((_("What we will do"), chores(facts)),) if facts.tasks else ()


def _access(facts: VisitFacts) -> str:
    return _("Please keep the way to your drains free, and dogs indoors. Nobody needs to be home unless we asked.")


def offered(facts: VisitFacts) -> Wording:
    """Choose among days."""
    days = tuple(day(d) for d in facts.offered)
    lines: tuple[str, ...] = (
        _("Some of your drains at %(address)s are coming due.") % {"address": facts.address},
        _("Please choose one of these days, or ask for another."),
    )
    if facts.answer_by:
        lines += (_("Please answer by %(day)s; otherwise we will call you.") % {"day": day(facts.answer_by)},)
    return Wording(
        subject=_("Choose a day for your drains at %(address)s") % {"address": facts.address},
        lines=lines,
        lists=((_("Days you can choose"), days), *_work(facts)),
        button=_("Choose a day"),
    )


def notice(facts: VisitFacts) -> Wording:
    """We come on a day, by the notice the property has agreed to."""
    return Wording(
        subject=_("We are coming to %(address)s on %(day)s")
        % {"address": facts.address, "day": day(facts.local_date) if facts.local_date else ""},
        lines=(_("We are coming %(when)s.") % {"when": _day_and_time(facts)}, _access(facts)),
        lists=_work(facts),
        button=_("See the visit, or ask for another day"),
    )


def agreed(facts: VisitFacts) -> Wording:
    """The day is settled."""
    return Wording(
        subject=_("Agreed: %(day)s at %(address)s")
        % {"address": facts.address, "day": day(facts.local_date) if facts.local_date else ""},
        lines=(_("Thank you. We are coming %(when)s.") % {"when": _day_and_time(facts)}, _access(facts)),
        lists=_work(facts),
        button=_("See the visit, or ask for another day"),
    )


def moved(facts: VisitFacts) -> Wording:
    """The day or time changed."""
    lines: tuple[str, ...] = (_("Your visit has moved. We are now coming %(when)s.") % {"when": _day_and_time(facts)},)
    if facts.why:
        lines += (facts.why,)
    return Wording(
        subject=_("Moved: we are coming to %(address)s on %(day)s")
        % {"address": facts.address, "day": day(facts.local_date) if facts.local_date else ""},
        lines=(*lines, _access(facts)),
        lists=_work(facts),
        button=_("See the visit, or ask for another day"),
    )


def called_off(facts: VisitFacts) -> Wording:
    """The visit will not take place."""
    told = day(facts.local_date) if facts.local_date else _("a day not yet agreed")
    lines: tuple[str, ...] = (
        _("The visit to %(address)s planned for %(day)s will not take place.")
        % {"address": facts.address, "day": told},
    )
    if facts.why:
        lines += (facts.why,)
    return Wording(
        subject=_("Called off: the visit to %(address)s") % {"address": facts.address},
        lines=(*lines, _("You need not do anything. We will write again when a new day is planned.")),
        button=_("See what is planned"),
    )


def day_before(facts: VisitFacts) -> Wording:
    """The reminder. The day is told by the day the message leaves (%%WHEN%%)."""
    return Wording(
        subject=_("Reminder: we are coming to %(address)s on %(day)s")
        % {"address": facts.address, "day": day(facts.local_date) if facts.local_date else ""},
        lines=(
            _("We are coming %(when)s: %(day)s.") % {"when": links.WHEN, "day": _day_and_time(facts)},
            _access(facts),
        ),
        lists=_work(facts),
        button=_("See the visit, or ask for another day"),
    )


def done(facts: VisitFacts) -> Wording:
    """What was found and done, and what comes next."""
    lines: tuple[str, ...] = (_("We were at %(address)s today.") % {"address": facts.address},)
    if facts.next_words:
        lines += (facts.next_words,)
    return Wording(
        subject=_("What we found and did at %(address)s") % {"address": facts.address},
        lines=lines,
        lists=((_("Found and done"), facts.found),) if facts.found else (),
        button=_("See your drains"),
    )


def owner_tasks(facts: VisitFacts) -> Wording:
    """The owner's own small share, in one mail."""
    return Wording(
        subject=_("Small things you can do for your drains at %(address)s") % {"address": facts.address},
        lines=(_("These keep the water moving between our visits. None takes longer than a few minutes."),),
        lists=((_("For you to do"), chores(facts)),),
        button=_("Mark them done"),
        caution=_(
            "For adults, in daylight, never during a storm, a flood or lightning. Never reach under a grate or into "
            "a sump, and never step into water that may touch outlets, cords or a panel."
        ),
    )


WORDINGS: dict[str, Callable[[VisitFacts], Wording]] = {
    "visit_offered": offered,
    "visit_notice": notice,
    "visit_agreed": agreed,
    "visit_moved": moved,
    "visit_called_off": called_off,
    "day_before": day_before,
    "visit_done": done,
    "owner_tasks": owner_tasks,
}


@dataclass(frozen=True, slots=True)
class Rendered:
    """Subject, text and HTML, ready for the outbox."""

    subject: str
    text: str
    html: str


def render(kind: str, facts: VisitFacts, *, company: Company, language: str, name: str, stop: str) -> Rendered:
    """Lay out one message in `language`. `stop` is the unsubscribe address; the link is put in as it leaves."""
    with translation.override(language):
        wording = WORDINGS[kind](facts)
        context = {
            "w": wording,
            "company": company,
            "greeting": _("Hello %(name)s,") % {"name": name},
            "link": links.LINK,
            "stop": stop,
            "address": facts.address,
            "language": language,
        }
        return Rendered(
            subject=wording.subject,
            text=render_to_string("mail/message.txt", context),
            html=render_to_string("mail/message.html", context),
        )


def when_words(days_left: int, local_date: date, language: str) -> str:
    """'today', 'tomorrow' or the day itself, for a message that may leave late."""
    with translation.override(language):
        if days_left == 0:
            return _("today")
        if days_left == 1:
            return _("tomorrow")
        return _("on %(day)s") % {"day": day(local_date)}
