"""Storm ratings as stored, for pages, API and command: visible systems only."""

from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from core.act import Act
from hydraulics.units import convert
from jobs.models import Property
from jobs.read import visible
from maintenance.models import SystemRating


@dataclass(frozen=True, slots=True)
class RatingTold:
    """One system's rating for a page: `lines` say it in words, `states` carry the numbers."""

    system_uid: str
    system_name: str
    target_years: float
    rated: bool
    needs: tuple[str, ...]
    lines: tuple[str, ...]
    states: tuple[dict[str, Any], ...]
    checks: tuple[dict[str, Any], ...]
    pumps: tuple[dict[str, Any], ...]
    rain_table: str
    note: str
    computed_at: Any
    as_of: Any
    is_stale: bool


STATE_WORDS = {"as_new": "As new", "today": "Today", "cleaned": "After cleaning"}


def ratings(act: Act) -> QuerySet[SystemRating]:
    """Stored ratings of the systems this person may see."""
    return (
        SystemRating.objects.filter(system__in=visible.systems(act))
        .select_related("system", "system__property")
        .order_by("system_id")
    )


def of_property(act: Act, prop: Property, *, units: str = "us") -> tuple[RatingTold, ...]:
    """Every rated or unrated system of one property, told in the company's units. Two queries at most."""
    return tuple(told(row, units=units) for row in ratings(act).filter(system__property=prop))


def told(row: SystemRating, *, units: str = "us") -> RatingTold:
    """One stored rating as people read it."""
    detail = row.detail or {}
    states = detail.get("states", {})
    shown = tuple(
        {"state": state, "words": STATE_WORDS[state], **states[state], "rain": rain_words(states[state], units)}
        for state in STATE_WORDS
        if state in states
    )
    return RatingTold(
        system_uid=str(row.system.uid),
        system_name=row.system.name,
        target_years=row.system.target_return_years,
        rated=row.as_new is not None,
        needs=tuple(row.needs),
        lines=tuple(_lines(row, states, units)),
        states=shown,
        checks=tuple(_checks(states.get("today", {}), units)),
        pumps=tuple(
            {**pump, "picture": pump_picture(pump), "facts": pump_facts(pump, units)}
            for pump in detail.get("pumps", ())
        ),
        rain_table=detail.get("rain_table", ""),
        note=detail.get("note", ""),
        computed_at=row.computed_at,
        as_of=row.as_of,
        is_stale=row.register_revision != row.system.property.revision,
    )


def rain_words(state: dict[str, Any], units: str) -> str:
    """'2.1 inches in an hour' or '53 mm in an hour'; '' where no storm reaches the system."""
    inches = state.get("rain_60min_in")
    if inches is None:
        return ""
    if units == "metric":
        return f"{convert(float(inches), 'in', 'mm'):.0f} mm in an hour"
    return f"{float(inches):.1f} inches in an hour"


def flow_words(gpm: float | None, units: str) -> str:
    """A flow in the company's units; 'any' where there is no limit."""
    if gpm is None:
        return "any"
    if units == "metric":
        return f"{convert(float(gpm), 'gpm', 'lps'):.2f} l/s"
    return f"{float(gpm):.0f} gpm"


def share_words(multiple: float | None) -> str:
    """'85 %' of the target storm; 'more than the table' where endless."""
    return "no storm water reaches it" if multiple is None else f"{multiple:.0%}".replace("%", " %")


def _lines(row: SystemRating, states: dict[str, Any], units: str) -> list[str]:
    if row.as_new is None:
        return ["not rated: needs " + "; ".join(row.needs)]
    target = f"{row.system.target_return_years:g}-year storm"
    lines = []
    today = states.get("today")
    if today:
        spread = ""
        if row.today_p10 is not None and row.today_p90 is not None and abs(row.today_p10 - row.today_p90) > 0.005:
            low, high = sorted((row.today_p10, row.today_p90))
            spread = f" ({share_words(low)} to {share_words(high)} with the silt's range)"
        lines.append(
            f"Today it carries {rain_words(today, units)}, {share_words(row.today)} of its {target}{spread}; "
            f"{today['limiting']} limits it by {today['limiting_what']}."
        )
    cleaned = states.get("cleaned")
    if cleaned:
        lines.append(f"Cleaned: {rain_words(cleaned, units)}, {share_words(row.cleaned)}.")
    if row.as_new < 1:
        limiting = states["as_new"]["limiting"]
        short = 1 - row.as_new
        lines.append(
            f"Even clean and as new it misses its {target} by {short:.0%}: {limiting} is too small for what reaches it."
        )
    dark = (row.detail or {}).get("no_power")
    if dark is not None:
        lines.append(f"Without power it carries {share_words(dark)} of the target storm.")
    return lines


def _checks(state: dict[str, Any], units: str) -> list[dict[str, Any]]:
    """What reaches each component against what it carries, the tightest first; `bar_px` of 100 is full."""
    found = []
    for check in state.get("checks", ()):
        reaches, capacity = check["reaches_gpm"], check["capacity_gpm"]
        share = 0.0 if not capacity or reaches is None else reaches / capacity
        found.append(
            {
                **check,
                "reaches": flow_words(reaches, units),
                "capacity": flow_words(capacity, units),
                "share": share,
                "percent": round(share * 100),
                "bar_px": round(min(share, 1.5) * 100),
            }
        )
    return sorted(found, key=lambda check: -check["share"])


def _measure(value: float | None, units: str, us: tuple[str, str, int], metric: tuple[str, str, int]) -> str:
    """A value kept in the US unit, told in the company's units: (unit key, unit words, decimals)."""
    if value is None:
        return "unknown"
    key, words, places = metric if units == "metric" else us
    return f"{convert(float(value), us[0], key):.{places}f} {words}"


def pump_facts(pump: dict[str, Any], units: str) -> list[tuple[str, str]]:
    """What a pump line does, as (what, words), in the company's units."""
    flow = lambda gpm: _measure(gpm, units, ("gpm", "gpm", 0), ("lps", "l/s", 2))  # noqa: E731
    head = lambda feet: _measure(feet, units, ("ft", "ft", 1), ("m", "m", 2))  # noqa: E731
    if pump.get("duty_gpm"):
        duty = f"{flow(pump['duty_gpm'])} against {head(pump['head_ft'])}; {flow(pump['flow_gpm'])} by its last test"
    else:
        lift, shutoff = head(pump.get("lift_ft")), head(pump.get("shutoff_ft"))
        duty = f"no flow: the line asks {lift}, the pump gives at most {shutoff}"
    speed = _measure(pump.get("velocity_ft_s"), units, ("ft_s", "ft/s", 1), ("m_s", "m/s", 2))
    flag = f" ({pump['velocity_flag']})" if pump.get("velocity_flag") else ""
    starts = " and ".join(str(n) for n in pump.get("starts_in_storm", ()))
    minutes = " and ".join(f"{n:g}" for n in pump.get("run_minutes_in_storm", ()))
    until = pump.get("minutes_to_limit_without_pump")
    spill = "it never reaches its limit" if until is None else f"{until:.1f} minutes from pump-on to its limit"
    return [
        ("Duty", duty),
        ("Speed in the line", speed + flag),
        ("Starts", f"at most {pump.get('most_starts_per_hour') or 0:.0f} an hour at the worst inflow"),
        ("In the target storm", f"{starts} starts, running {minutes} minutes"),
        ("If the pump fails in it", spill),
    ]


WIDTH, HEIGHT, LEFT, FOOT = 360, 200, 44, 30


def pump_picture(pump: dict[str, Any]) -> dict[str, Any]:
    """Geometry of pump curve, line curve and duty point for the SVG template; {} where there is no curve to draw."""
    curves = pump.get("curve_gpm_ft") or {}
    if not curves or not pump.get("duty_gpm"):
        return {}
    most_q = max(q for q, _ in curves["pump"])
    most_h = max(max(h for _, h in curves["pump"]), 1.0)
    across, up = WIDTH - LEFT - 12, HEIGHT - FOOT - 12

    def place(q: float, h: float) -> tuple[float, float]:
        return round(LEFT + across * q / most_q, 1), round(HEIGHT - FOOT - up * h / most_h, 1)

    def path(points: list[list[float]]) -> str:
        inside = [place(q, h) for q, h in points if h <= most_h]
        return "M" + "L".join(f"{x} {y}" for x, y in inside) if inside else ""

    x, y = place(pump["duty_gpm"], pump["head_ft"])
    return {
        "pump": path(curves["pump"]),
        "line": path(curves["line"]),
        "x": x,
        "y": y,
        "most_q": f"{most_q:.0f}",
        "most_h": f"{most_h:.0f}",
        "left": LEFT,
        "right": WIDTH - 12,
        "floor": HEIGHT - FOOT,
        "words": f"{pump['duty_gpm']:.0f} gpm at {pump['head_ft']:.1f} ft",
    }
