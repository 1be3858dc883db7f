"""Which occasions there are, who hears of them by default, and under which policy. Pure."""

from dataclasses import dataclass
from typing import Final

from maintenance.messages.when import OccasionKind


@dataclass(frozen=True, slots=True)
class Occasion:
    """One kind of message.

    `by_default`: sent unless the person stopped it; else only to whoever asked for it. `repeats`: sent again when it
    is not known whether it arrived (same Message-ID). `asks`: only to people who may agree to days.
    """

    kind: str
    timing: OccasionKind
    words: str
    by_default: bool = True
    repeats: bool = False
    asks: bool = False


OCCASIONS: Final[dict[str, Occasion]] = {
    o.kind: o
    for o in (
        Occasion("visit_offered", OccasionKind.VISIT_OFFERED, "days to choose from", asks=True),
        Occasion("visit_notice", OccasionKind.VISIT_AGREED, "we are coming"),
        Occasion("visit_agreed", OccasionKind.VISIT_AGREED, "a day was agreed", by_default=False),
        Occasion("visit_moved", OccasionKind.VISIT_MOVED, "the visit moved", repeats=True),
        Occasion("visit_called_off", OccasionKind.VISIT_CALLED_OFF, "the visit was called off", repeats=True),
        Occasion("day_before", OccasionKind.DAY_BEFORE, "the day before the visit"),
        Occasion("visit_done", OccasionKind.VISIT_DONE, "what was found and done"),
        Occasion("owner_tasks", OccasionKind.OWNER_TASKS, "small tasks of your own"),
    )
}


def hears(occasion: Occasion, choice: bool | None) -> bool:
    """Whether a person with this recorded choice (None: never chose) gets this kind."""
    return occasion.by_default if choice is None else choice
