"""Yards for the refresh tests: the rule library, a few parts that silt and wear, and what was found in them."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from core import company
from core.act import Act, by_system
from jobs.component_versions import record_versions
from jobs.models import Component, Property, System
from maintenance import rules
from maintenance.models import Reading, TaskDone
from tests.factories import AT, TODAY, ZONE, ComponentFactory, SystemFactory

EARLY = datetime(2022, 6, 1, 12, 0, tzinfo=UTC)
"""When the register, the settings and the rules of these tests were recorded."""


def act(at: datetime = AT) -> Act:
    return by_system("test", at=at)


def set_up(**settings: object) -> None:
    """Company settings and the rule library, recorded four years before the tests' today."""
    company.change(act=act(EARLY), zone=ZONE, **settings)
    rules.install_library(act=act(EARLY))


def part(system: System, kind: str = "catch_basin", tag: str = "", **fields: object) -> Component:
    """A component recorded in 2022, its first version with it."""
    made = ComponentFactory(system=system, kind=kind, tag=tag or f"{kind[:2].upper()}-1", version=False, **fields)
    record_versions([made], EARLY)
    return made


def yard() -> tuple[Component, Component, Component]:
    """A basin, a sump and its pump at one property."""
    system = SystemFactory(created_at=EARLY)
    basin = part(system)
    sump = part(system, "sump_basin", dimensions={"pump_intake_above_bottom_in": 4.0})
    pump = part(system, "pump", sits_in=sump)
    return basin, sump, pump


def cleaned(component: Component, on: date, *, left: float | None = None, task: str = "clean") -> TaskDone:
    """A cleaning recorded that evening."""
    at = datetime(on.year, on.month, on.day, 22, tzinfo=UTC)
    return TaskDone.objects.create(
        component=component, task=task, outcome="done", done_on=on, recorded_at=at, left_fill=left, by="user:x"
    )


def found(
    component: Component, on: date, depth_in: float, *, recorded: datetime | None = None, **fields: object
) -> Reading:
    """A silt depth measured at noon and recorded that evening, or when said."""
    at = datetime(on.year, on.month, on.day, 16, tzinfo=UTC)
    return Reading.objects.create(
        **{
            "component": component,
            "code": "silt_depth_in",
            "value": depth_in,
            "unit": "in",
            "canonical": depth_in,
            "measured_at": at,
            "recorded_at": recorded or at + timedelta(hours=6),
            "measured_by": "user:x",
            "entered_by": "user:x",
            **fields,
        }
    )


def drawdown(pump: Component, on: date, seconds: float, *, recorded: datetime | None = None) -> None:
    """A pump-down test: six inches in so many seconds."""
    for code, value, unit in (("drawdown_drop_in", 6.0, "in"), ("drawdown_seconds", seconds, "s")):
        found(pump, on, value, recorded=recorded, code=code, unit=unit)


def many(properties: int, parts_each: int) -> list[int]:
    """So many properties with so many catch basins each, written in bulk; returns the properties' keys."""
    made = Property.objects.bulk_create(
        Property(address=f"{n} Long Row", zone=ZONE, created_at=EARLY) for n in range(properties)
    )
    kinds = ("catch_basin", "channel_run", "gravity_pipe", "sump_basin", "outfall")
    parts = Component.objects.bulk_create(
        Component(
            property=place,
            kind=kinds[n % len(kinds)],
            tag=f"P-{n}",
            tag_key=f"p-{n}",
            installed_on=date(2022, 1, 1) + timedelta(days=n),
            created_at=EARLY,
        )
        for place in made
        for n in range(parts_each)
    )
    record_versions(parts, EARLY)
    Reading.objects.bulk_create(
        Reading(
            component=component,
            code="silt_depth_in",
            canonical=1.0 + n % 3,
            measured_at=EARLY + timedelta(days=200 + n % 50),
            recorded_at=EARLY + timedelta(days=201 + n % 50),
            measured_by="user:x",
            entered_by="user:x",
        )
        for n, component in enumerate(parts)
        if component.kind in ("catch_basin", "channel_run")
    )
    return [place.pk for place in made]


__all__ = ["AT", "EARLY", "TODAY", "act", "cleaned", "drawdown", "found", "many", "part", "set_up", "yard"]
