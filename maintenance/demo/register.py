"""Writes the demo's people, properties, systems and components, in bulk and as if recorded when they began."""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from random import Random
from uuid import UUID, uuid5

from core import company, normalise
from core.act import Act, by_system
from core.history import record_change
from core.models import User
from jobs.component_versions import version_data
from jobs.kinds import registry
from jobs.models import (
    Area,
    Component,
    ComponentVersion,
    Connection,
    Customer,
    DrainageArea,
    Hazard,
    Property,
    PropertyRole,
    System,
)
from maintenance import rules
from maintenance.demo import people, weather
from maintenance.demo.houses import DemoSystem, House, Part
from maintenance.models import Gauge, RainRow, RainTable

NAMESPACE = UUID("5b8f3f2e-4c55-4d0e-9a0d-6e1d3c1a7b10")
ZONE = "America/New_York"
SINCE = timedelta(days=365 * 6 + 30)
RECENT = timedelta(days=40)
"""Half-known yards were taken on lately."""


@dataclass
class Written:
    """What was written, by the demo's own keys."""

    properties: dict[int, Property] = field(default_factory=dict)
    systems: dict[tuple[int, int], System] = field(default_factory=dict)
    parts: dict[tuple[int, int, str], Component] = field(default_factory=dict)
    crew: list[User] = field(default_factory=list)
    office: User | None = None


def uid(*names: object) -> UUID:
    """A stable id for something of the demo."""
    return uuid5(NAMESPACE, " ".join(map(str, names)))


def moment(day: date, hour: int = 14) -> datetime:
    """An instant on a day of the demo."""
    return datetime.combine(day, time(hour), tzinfo=UTC)


def write_company(seed: int, anchor: date) -> Act:
    """Settings, rules, rain table and gauge, recorded six years back so that earlier days compute. Returns that act."""
    act = by_system("demo", at=moment(anchor - SINCE), via="demo")
    company.change(
        act=act,
        name=people.COMPANY,
        postal_address=f"1 Yard Road, {people.TOWN} (invented)",
        phone="555-0100",
        zone=ZONE,
        yard_lat=36.30,
        yard_lon=-79.60,
        climate_mm=weather.CLIMATE_MM,
        gauge=weather.GAUGE,
        wet_season_month=6,
    )
    rules.install_library(act=act)
    RainTable.objects.create(
        name=f"{people.TOWN} (invented)",
        durations_min=weather.DURATIONS_MIN,
        return_years=weather.RETURN_YEARS,
        depths_in=weather.DEPTHS_IN,
        source=people.SOURCE,
        recorded_at=act.at,
    )
    gauge = Gauge.objects.create(uid=uid("gauge"), name=weather.GAUGE, zone=ZONE, source=weather.SOURCE)
    RainRow.objects.bulk_create(
        (
            RainRow(gauge=gauge, day=day, depth_mm=depth, recorded_at=moment(day + timedelta(days=1), 11))
            for day, depth in weather.daily_rain_mm(seed, anchor - SINCE, anchor - timedelta(days=1))
        ),
        batch_size=1000,
    )
    return act


def write_people(written: Written) -> None:
    """The office and three technicians, with passwords nobody knows until `show_start` sets them."""
    username, first, last = people.OFFICE
    written.office = _user(username, first, last, User.Role.OFFICE)
    written.crew = [_user(username, first, last, User.Role.CREW) for username, first, last in people.CREW]


def _user(username: str, first: str, last: str, role: str) -> User:
    user = User(
        uid=uid("user", username),
        username=username,
        first_name=first,
        last_name=last,
        role=role,
        email=f"{username}@rillmark.invalid",
        is_staff=role == User.Role.OFFICE,
    )
    user.set_unusable_password()
    user.save()
    return user


def write_register(act: Act, houses: tuple[House, ...], written: Written) -> None:
    """Everything in the ground, with its first versions."""
    areas = {name: Area.objects.create(uid=uid("area", name), name=name) for name in people.AREAS}
    for house in houses:
        written.properties[house.number] = _property(act, house, areas)
    Property.objects.bulk_create(written.properties.values())
    _roles(act, houses, written)
    Hazard.objects.bulk_create(
        Hazard(
            property=written.properties[house.number],
            kind=kind,
            note=note,
            x_ft=x or None,
            y_ft=y or None,
            depth_in=depth,
            found_at=act.at,
        )
        for house in houses
        for kind, note, x, y, depth in house.hazards
    )
    _systems(act, houses, written)
    _water(houses, written)
    for prop in written.properties.values():
        record_change(
            act=act,
            noun="property",
            uid=prop.uid,
            action="load",
            after={"address": prop.address},
            property_uid=prop.uid,
            note="demo company, invented",
        )


def _property(act: Act, house: House, areas: dict[str, Area]) -> Property:
    return Property(
        uid=uid("house", house.number),
        address=house.address,
        city=people.TOWN,
        region=people.REGION,
        zone=ZONE,
        lat=house.lat,
        lon=house.lon,
        area=areas[house.area],
        access_note="Side gate, left of the garage." if house.gate_code else "",
        gate_code=house.gate_code,
        notice_only=house.notice_only,
        consequence=house.consequence,
        canopy=house.canopy,
        corner="south-west corner of the house",
        plan={"house": [[0, 0], [42, 0], [42, 26], [0, 26]], "north_deg": 0},
        search=normalise.search_text(house.address, people.TOWN, people.REGION),
        created_at=act.at,
    )


def _roles(act: Act, houses: tuple[House, ...], written: Written) -> None:
    customers, roles = [], []
    for house in houses:
        for person in house.people:
            customer = Customer(
                uid=uid("customer", person.email),
                name=person.name,
                email=person.email,
                phone=person.phone,
                language=person.language,
                search=normalise.search_text(person.name, person.email, person.phone),
                created_at=act.at,
            )
            customers.append(customer)
            roles.append(
                PropertyRole(
                    uid=uid("role", person.email),
                    property=written.properties[house.number],
                    customer=customer,
                    role=person.role,
                    from_date=person.from_date,
                    until_date=person.until_date,
                    approves_cost=person.role == "owner",
                )
            )
    Customer.objects.bulk_create(customers)
    PropertyRole.objects.bulk_create(roles)


def _systems(act: Act, houses: tuple[House, ...], written: Written) -> None:
    for house in houses:
        for index, plan in enumerate(house.systems):
            warranty = plan.installed_on + timedelta(days=730) if plan.installed_on and plan.ours else None
            written.systems[house.number, index] = System(
                uid=uid("system", house.number, index),
                property=written.properties[house.number],
                name=plan.name,
                installed_on=plan.installed_on,
                handed_over_on=plan.installed_on if plan.ours else None,
                ours=plan.ours,
                warranty_until=warranty,
                created_at=act.at,
            )
    System.objects.bulk_create(written.systems.values())
    for house in houses:
        for index, plan in enumerate(house.systems):
            for part in plan.parts:
                written.parts[house.number, index, part.key] = _component(act, house, index, part, plan, written)
    parts = written.parts
    Component.objects.bulk_create(parts.values())
    for house in houses:
        for index, plan in enumerate(house.systems):
            for part in plan.parts:
                here = parts[house.number, index, part.key]
                here.sits_in = parts.get((house.number, index, part.sits_in))
                here.part_of = parts.get((house.number, index, part.part_of))
    Component.objects.bulk_update(parts.values(), ["sits_in", "part_of"], batch_size=300)
    ComponentVersion.objects.bulk_create(
        ComponentVersion(component=part, recorded_at=part.created_at, data=version_data(part))
        for part in parts.values()
    )


def _component(act: Act, house: House, index: int, part: Part, plan: DemoSystem, written: Written) -> Component:
    return Component(
        uid=uid("part", house.number, index, part.key),
        property=written.properties[house.number],
        system=written.systems[house.number, index],
        kind=part.kind,
        kind_version=registry.get(part.kind).version,
        tag=part.tag,
        tag_key=normalise.tag_key(part.tag),
        dimensions=part.dims,
        certainty=part.certainty,
        place=part.place,
        place_certainty="measured" if part.place else "",
        installed_on=_installed(act, house, index, part, plan),
        created_at=act.at if plan.installed_on else act.at + SINCE - RECENT,
    )


def _installed(act: Act, house: House, index: int, part: Part, plan: DemoSystem) -> date | None:
    """Floats are changed every couple of years; the rest is as old as its system."""
    if plan.installed_on is None or part.kind != "float":
        return plan.installed_on
    age = Random(f"float {house.number} {index} {part.key}").randrange(60, 1060)
    return max(plan.installed_on, act.at.date() + SINCE - timedelta(days=age))


def _water(houses: tuple[House, ...], written: Written) -> None:
    links, surfaces = [], []
    for house in houses:
        prop = written.properties[house.number]
        for index, plan in enumerate(house.systems):
            if plan.installed_on is None:
                continue
            part = lambda key, at=(house.number, index): written.parts[(*at, key)]  # noqa: E731
            links += [
                Connection(
                    property=prop,
                    from_component=part(link.source),
                    to_component=part(link.target),
                    kind=link.flow,
                    certainty="measured",
                )
                for link in plan.draft.connections
            ]
            surfaces += [
                DrainageArea(
                    property=prop,
                    component=part(area.component),
                    name=area.name,
                    surface=area.surface,
                    area_ft2=area.area_ft2,
                    runoff_c=area.runoff_c,
                    concentration_min=area.concentration_min,
                    certainty="assumed",
                )
                for area in plan.draft.areas
            ]
    Connection.objects.bulk_create(links)
    DrainageArea.objects.bulk_create(surfaces)
