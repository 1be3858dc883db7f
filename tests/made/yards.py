"""The cast that tests ask "who may see this?", and properties with systems of several shapes."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from core import act as acts
from core.act import Act
from core.models import User
from jobs.models import Component, Customer, Property, PropertyRole, System
from tests.made.core import OfficeFactory, UserFactory
from tests.made.register import (
    ComponentFactory,
    ConnectionFactory,
    CustomerFactory,
    DrainageAreaFactory,
    PropertyAccessFactory,
    PropertyFactory,
    PropertyRoleFactory,
    SystemFactory,
)
from tests.made.times import AT


@dataclass(frozen=True)
class Cast:
    """Everybody, and two properties: the homeowner's, which `crew` may see, and the stranger's, which no crew may."""

    office: User
    crew: User
    other_crew: User
    homeowner: Customer
    stranger: Customer
    property: Property
    strangers_property: Property
    role: PropertyRole

    def act(self, who: str, **more: Any) -> Act:
        """An act of one of them, by name of the field above."""
        person = getattr(self, who)
        more.setdefault("at", AT)
        if isinstance(person, Customer):
            return acts.by_customer(person, **more)
        more.setdefault("via", "page")
        return acts.by_user(person, **more)


def make_cast() -> Cast:
    """The named cast around two properties."""
    home, elsewhere = PropertyFactory(address="7 Cistern Row"), PropertyFactory(address="90 Far Meadow")
    crew = UserFactory(first_name="Ivo", last_name="Tannery")
    PropertyAccessFactory(property=home, user=crew)
    homeowner, stranger = CustomerFactory(name="Oda Quill"), CustomerFactory(name="Bram Nettle")
    role = PropertyRoleFactory(property=home, customer=homeowner)
    PropertyRoleFactory(property=elsewhere, customer=stranger)
    return Cast(
        office=OfficeFactory(first_name="Mara", last_name="Weir"),
        crew=crew,
        other_crew=UserFactory(first_name="Pell", last_name="Sluys"),
        homeowner=homeowner,
        stranger=stranger,
        property=home,
        strangers_property=elsewhere,
        role=role,
    )


def _part(system: System, kind: str, tag: str, dimensions: dict[str, Any] | None = None, **more: Any) -> Component:
    return ComponentFactory(system=system, kind=kind, tag=tag, dimensions=dimensions or {}, **more)


def _chain(*parts: Component) -> None:
    for first, second in pairwise(parts):
        ConnectionFactory(from_component=first, to_component=second)


def _system(property: Property | None, name: str) -> System:
    return SystemFactory(property=property or PropertyFactory(), name=name)


def channel_to_sump(property: Property | None = None, *, number: int = 1) -> System:
    """Patio channel to a pumped sump to the curb: CH, grate, SB, PU, float, AL, CV, DL, OF. `number` ends the tags."""
    system = _system(property, f"Patio {number}")
    channel = _part(
        system,
        "channel_run",
        f"CH-{number}",
        {"inside_width_in": 4.0, "inside_depth_in": 4.0, "length_ft": 24.0, "slope_percent": 0.0, "ends": "piped"},
    )
    _part(system, "grate", "", {"length_in": 288.0, "width_in": 5.0}, part_of=channel)
    basin = _part(
        system,
        "sump_basin",
        f"SB-{number}",
        {
            "inside_diameter_in": 18.0,
            "depth_in": 30.0,
            "on_above_bottom_in": 14.0,
            "off_above_bottom_in": 6.0,
            "lowest_inflow_invert_above_bottom_in": 18.0,
            "pump_intake_above_bottom_in": 3.0,
        },
    )
    pump = _part(system, "pump", f"PU-{number}", {"horsepower_hp": 0.5}, sits_in=basin)
    _part(system, "float", "", part_of=pump, sits_in=basin)
    _part(system, "high_water_alarm", f"AL-{number}", sits_in=basin)
    valve = _part(system, "check_valve", f"CV-{number}", {"valve_type": "swing"})
    line = _part(
        system, "discharge_line", f"DL-{number}", {"inside_diameter_in": 1.61, "length_ft": 60.0, "static_lift_ft": 4.0}
    )
    outfall = _part(system, "outfall", f"OF-{number}", {"outlet_kind": "curb"})
    _chain(channel, basin, pump, valve, line, outfall)
    DrainageAreaFactory(component=channel, name=f"patio {number}")
    return system


def french_drain_to_outfall(property: Property | None = None, *, number: int = 1) -> System:
    """FD to a solid pipe to a pop-up in the lawn."""
    system = _system(property, f"Side yard {number}")
    drain = _part(
        system,
        "french_drain",
        f"FD-{number}",
        {"inside_diameter_in": 4.0, "length_ft": 40.0, "slope_percent": 1.0, "clean_out_fitted": True},
    )
    pipe = _part(
        system, "gravity_pipe", f"GP-{number}", {"inside_diameter_in": 4.0, "length_ft": 30.0, "slope_percent": 1.5}
    )
    outfall = _part(system, "outfall", f"OF-{number}0", {"outlet_kind": "pop_up"})
    _chain(drain, pipe, outfall)
    DrainageAreaFactory(component=drain, name="side lawn", surface="lawn", area_ft2=900.0, runoff_c=0.25)
    return system


def roof_to_dry_well(property: Property | None = None, *, number: int = 1) -> System:
    """Two downspout leaders into a catch basin and on to a dry well."""
    system = _system(property, f"Roof {number}")
    basin = _part(
        system,
        "catch_basin",
        f"CB-{number}",
        {"inside_width_in": 12.0, "inside_length_in": 12.0, "depth_in": 18.0, "invert_above_bottom_in": 6.0},
    )
    well = _part(system, "dry_well", f"DW-{number}", {"inside_diameter_in": 24.0, "depth_in": 48.0, "chambers": 2})
    for side in (1, 2):
        leader = _part(
            system,
            "downspout_leader",
            f"DS-{number}{side}",
            {"inside_diameter_in": 4.0, "length_ft": 20.0, "slope_percent": 1.0},
        )
        ConnectionFactory(from_component=leader, to_component=basin)
        DrainageAreaFactory(component=leader, name=f"roof {side}", surface="roof", area_ft2=500.0, runoff_c=0.95)
    pipe = _part(
        system, "gravity_pipe", f"GP-{number}1", {"inside_diameter_in": 4.0, "length_ft": 15.0, "slope_percent": 1.0}
    )
    _chain(basin, pipe, well)
    return system


def half_known(property: Property | None = None) -> System:
    """Somebody else's old work: a channel and a basin of which only kind and tag are known, not connected."""
    system = SystemFactory(property=property or PropertyFactory(), name="Old drain", ours=False, installed_on=None)
    _part(system, "channel_run", "CH-9", installed_on=None)
    _part(system, "catch_basin", "CB-9", installed_on=None)
    return system
