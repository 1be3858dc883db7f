"""Every component kind by its code. A new kind is one file beside this one and one line here."""

from typing import Final

from jobs.kinds import (
    backup_battery,
    catch_basin,
    channel_run,
    check_valve,
    clean_out,
    discharge_line,
    downspout_leader,
    dry_well,
    float_switch,
    french_drain,
    grate,
    gravity_pipe,
    high_water_alarm,
    outfall,
    pump,
    sump_basin,
)
from jobs.kinds.base import Kind

ALL: Final[tuple[Kind, ...]] = tuple(
    module.KIND
    for module in (
        channel_run,
        catch_basin,
        french_drain,
        downspout_leader,
        gravity_pipe,
        clean_out,
        sump_basin,
        pump,
        check_valve,
        discharge_line,
        outfall,
        dry_well,
        backup_battery,
        high_water_alarm,
        grate,
        float_switch,
    )
)
"""The fourteen kinds in the order water meets them, then the two sub-parts."""

BY_CODE: Final[dict[str, Kind]] = {kind.code: kind for kind in ALL}

CHOICES: Final[tuple[tuple[str, str], ...]] = tuple((kind.code, kind.name) for kind in ALL)


class UnknownKind(ValueError):
    """No kind has this code."""


def get(code: str) -> Kind:
    """The kind with this code. Raises UnknownKind, naming the codes there are."""
    try:
        return BY_CODE[code]
    except KeyError:
        raise UnknownKind(f"kind is {code[:60]!r}: give one of {', '.join(BY_CODE)}.") from None
