"""Tools and parts a visit's tasks ask for. Pure. Common practice, no source."""

from collections.abc import Iterable, Mapping
from typing import Final


def gettext_noop(text: str) -> str:
    """Mark `text` for translation without translating it here."""
    return text


ALWAYS: Final = (gettext_noop("gloves and hand-washing"), gettext_noop("grate hook"), gettext_noop("tape in inches"))

BY_TASK: Final[Mapping[str, tuple[str, ...]]] = {
    "clean": (gettext_noop("scoop and bucket"), gettext_noop("wet vacuum"), gettext_noop("bags for the silt")),
    "look": (gettext_noop("lamp"), gettext_noop("scoop and bucket")),
    "flush": (gettext_noop("hose and nozzle"), gettext_noop("lamp")),
    "test_pump": (
        gettext_noop("hose or water to fill the basin"),
        gettext_noop("clamp meter"),
        gettext_noop("lock for the plug"),
    ),
    "test_float": (gettext_noop("hose or water to fill the basin"),),
    "test_valve": (gettext_noop("hose or water to fill the basin"),),
    "test_battery": (gettext_noop("volt meter"),),
    "test_alarm": (gettext_noop("spare alarm battery"),),
    "drain_for_frost": (gettext_noop("wrenches for the unions"),),
    "restart": (gettext_noop("wrenches for the unions"),),
}


def what_to_bring(tasks: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """What to load for tasks given as (task code, words of the part), each thing once.

    >>> what_to_bring([("replace", "pump PU-1")])[-1]
    'new part: pump PU-1'
    """
    wanted = list(ALWAYS)
    for task, part in tasks:
        wanted += BY_TASK.get(task, ())
        if task == "replace":
            wanted.append(f"new part: {part}")
    return tuple(dict.fromkeys(wanted))
