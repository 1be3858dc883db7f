"""How full the parts behind some due windows are expected to be on a day, from what the windows themselves say."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from core.act import Act
from maintenance.forecast.days import day_number
from maintenance.forecast.priors import group_prior
from maintenance.forecast.season import Curve
from maintenance.models import DueWindow
from maintenance.read.due import today_of
from maintenance.read.forecast_inputs import load_common
from maintenance.read.windows import zone_then


@dataclass(frozen=True, slots=True)
class Level:
    """Expected fill and limit, 0 clean to 1 full, and the same as depths [in] where the part's room is known."""

    fill: float
    limit: float
    depth_in: float | None
    limit_in: float | None


def levels(act: Act, windows: Iterable[DueWindow]) -> dict[int, Level]:
    """Expected level today by window key: fill_left + median rate x silting time since the cycle began.

    Only windows with a silting curve are in it. At most four queries (season and settings), none where no window has
    a curve.
    """
    wanted = [w for w in windows if w.basis == "silt" and w.rate_p50 is not None and w.threshold and _start(w)]
    if not wanted:
        return {}
    today = today_of(act)
    common = load_common(as_of=today, zone=zone_then(today))
    curves: dict[tuple[float, float, float], Curve] = {}
    found = {}
    for window in wanted:
        load = group_prior(str(window.inputs.get("group", ""))).load
        curve = curves.setdefault(load, Curve(common.season, load))
        found[window.pk] = _level(window, float(curve.exposure(day_number(_start(window) or today), day_number(today))))
    return found


def _start(window: DueWindow) -> date | None:
    text = window.inputs.get("cycle_start")
    return date.fromisoformat(text) if isinstance(text, str) else None


def _level(window: DueWindow, exposure: float) -> Level:
    fill = min(1.0, max(0.0, (window.left_fill or 0.0) + (window.rate_p50 or 0.0) * max(0.0, exposure)))
    limit = min(1.0, window.threshold or 1.0)
    height = window.inputs.get("silt_height_in")
    if not isinstance(height, int | float) or not height:
        return Level(fill, limit, None, None)
    return Level(fill, limit, fill * height, limit * height)
