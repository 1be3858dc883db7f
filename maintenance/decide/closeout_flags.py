"""Why a closeout waits for a person or wants a look, in words, and what a person can do about each. Pure."""

from dataclasses import dataclass
from typing import Final


def gettext_noop(text: str) -> str:
    """Mark `text` for translation without translating it here."""
    return text


ACTIONS: Final[dict[str, str]] = {
    "seen": gettext_noop("Seen, leave it so"),
    "retry": gettext_noop("Try to take it again"),
    "accept": gettext_noop("Take it as it is"),
    "match": gettext_noop("Say which property it was"),
    "take_second": gettext_noop("Count the second report"),
    "keep_first": gettext_noop("Keep the first"),
    "made_safe": gettext_noop("Lids and grates are back and fastened now"),
    "set_aside": gettext_noop("Set it aside; it stays kept"),
}


@dataclass(frozen=True, slots=True)
class FlagKind:
    """A kind of flag. `waits`: the closeout is not applied until someone acts."""

    code: str
    title: str
    actions: tuple[str, ...]
    waits: bool = False


FLAGS: Final[dict[str, FlagKind]] = {
    kind.code: kind
    for kind in (
        FlagKind("not_understood", gettext_noop("Some of it could not be read"), ("retry", "set_aside"), True),
        FlagKind(
            "unknown", gettext_noop("It names something the register does not hold"), ("retry", "set_aside"), True
        ),
        FlagKind("not_theirs", gettext_noop("The sender may not see this property"), ("accept", "set_aside"), True),
        FlagKind("unassigned_sender", gettext_noop("The sender was not on this visit"), ("accept", "set_aside"), True),
        FlagKind("second_closeout", gettext_noop("Second closeout of one person"), ("accept", "set_aside"), True),
        FlagKind("unmatched", gettext_noop("An address typed on the phone"), ("match", "set_aside"), True),
        FlagKind("other_body", gettext_noop("Sent again with another content"), ("keep_first",)),
        FlagKind("nobody_assigned", gettext_noop("Nobody was on this visit"), ("seen",)),
        FlagKind("visit_called_off", gettext_noop("The visit had been called off"), ("seen",)),
        FlagKind("visit_not_agreed", gettext_noop("No day had been agreed"), ("seen",)),
        FlagKind("visit_moved", gettext_noop("The visit stood for another day"), ("seen",)),
        FlagKind("task_twice", gettext_noop("A task was reported twice"), ("keep_first", "take_second")),
        FlagKind("retired_part", gettext_noop("A part had been replaced meanwhile"), ("seen",)),
        FlagKind("already_replaced", gettext_noop("A part was replaced twice"), ("seen",)),
        FlagKind("clock_wrong", gettext_noop("The phone's clock was wrong"), ("seen",)),
        FlagKind("late", gettext_noop("It came in late"), ("seen",)),
        FlagKind("lids_open", gettext_noop("Lids or grates were left open"), ("made_safe",)),
        FlagKind("photo_missing", gettext_noop("Photos it names are not here"), ("seen",)),
    )
}
