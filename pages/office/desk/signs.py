"""Signs of life of the server's parts, in words, with what to do when one is silent."""

from dataclasses import dataclass
from datetime import datetime

from core.health import Report, Sign

WHAT_STOPS = {
    "worker": (
        "nothing is sent or recomputed",
        "start the server again (make run, or docker compose up -d worker) and look into its log",
    ),
    "scheduler": (
        "no reminder is looked for and no due window renewed at night",
        "start the server again (make run, or docker compose up -d beat) and look into its log",
    ),
    "outbox": ("no mail leaves", "see that the worker runs, then the mail settings (SILTLINE_SMTP_HOST and its like)"),
    "scan": ("no reminder is written", "see that the scheduler and the worker run"),
    "refresh": ("due windows stay as they are", "see that the scheduler and the worker run, or run manage.py refresh"),
}


@dataclass(frozen=True, slots=True)
class Silent:
    """One part that shows no life: since when, what does not happen because of it, and what to do."""

    words: str
    since: str
    stops: str
    do: str


@dataclass(frozen=True, slots=True)
class Signs:
    """Everything silent, and one sentence for the parts that are well."""

    silent: tuple[Silent, ...]
    well: str


def told(report: Report, at: datetime) -> Signs:
    """The report of core.health in words."""
    silent = tuple(_silent(sign, at) for sign in report.signs if not sign.alive)
    alive = [sign.words for sign in report.signs if sign.alive]
    well = f"{_listed(alive)} showed life within the last minutes." if alive else ""
    return Signs(silent, well)


def _silent(sign: Sign, at: datetime) -> Silent:
    stops, do = WHAT_STOPS[sign.name]
    since = "has never shown life here" if sign.at is None else f"has been silent for {ago(sign.at, at)}"
    return Silent(sign.words, since, stops, do)


def ago(then: datetime, now: datetime) -> str:
    """'6 min', '3 h', '2 days'."""
    minutes = max(0, int((now - then).total_seconds() // 60))
    if minutes < 120:
        return f"{minutes} min"
    return f"{minutes // 60} h" if minutes < 48 * 60 else f"{minutes // 1440} days"


def _listed(names: list[str]) -> str:
    low = [name if n == 0 else name[0].lower() + name[1:] for n, name in enumerate(names)]
    return low[0] if len(low) == 1 else f"{', '.join(low[:-1])} and {low[-1]}"
