"""The demo's properties and systems: a pure function of seed and anchor date."""

from dataclasses import dataclass, field
from datetime import date, timedelta
from random import Random
from typing import Any, Final

from jobs.decide import layouts
from jobs.decide.layout_draft import StartingDraft
from maintenance.demo import people

HOUSES: Final = 60
SYSTEMS: Final = 80
CENTRE: Final = (36.30, -79.60)
LAYOUTS: Final = (
    "basins_gravity_curb", "channel_pumped_curb", "leaders_pop_up", "basins_gravity_curb", "two_sumps",
    "channel_pumped_curb", "french_dry_well", "basins_gravity_curb",
)  # fmt: skip
# So that a design storm of the invented place means something to each system: none carries three times its target.
AREA_TIMES: Final = {
    "basins_gravity_curb": {"lawn_area_ft2": 3.4},
    "leaders_pop_up": {"roof_area_ft2": 2.6},
    "french_dry_well": {"lawn_area_ft2": 4.5},
}
NAMES: Final = {
    "basins_gravity_curb": "Back lawn",
    "channel_pumped_curb": "Patio",
    "leaders_pop_up": "Roof leaders",
    "two_sumps": "Courtyard",
    "french_dry_well": "Side yard",
}

# Scenes that a reader of the demo can look for, by number of the house.
FAST_CHANNEL: Final = 4
FAILED_PUMP: Final = 7
NEW_TENANT: Final = 11
HALF_KNOWN: Final = (57, 58, 59)


@dataclass(frozen=True)
class Part:
    """One component: the draft's key, kind, tag, dimensions and where it lies (feet from the corner)."""

    key: str
    kind: str
    tag: str
    dims: dict[str, Any]
    certainty: dict[str, str]
    sits_in: str
    part_of: str
    place: list[list[float]]


@dataclass(frozen=True)
class DemoSystem:
    """One system: its draft, when it went in, whether we dug it."""

    name: str
    installed_on: date | None
    ours: bool
    parts: tuple[Part, ...]
    draft: StartingDraft


@dataclass(frozen=True)
class DemoPerson:
    """Someone with a role at a house, from and until when."""

    name: str
    email: str
    phone: str
    role: str
    from_date: date
    until_date: date | None = None
    language: str = "en"


@dataclass(frozen=True)
class House:
    """One property of the demo."""

    number: int
    address: str
    lat: float
    lon: float
    area: str
    consequence: str
    canopy: str
    notice_only: bool
    gate_code: str
    people: tuple[DemoPerson, ...]
    systems: tuple[DemoSystem, ...]
    hazards: tuple[tuple[str, str, float, float, float | None], ...] = field(default=())


def houses(seed: int, anchor: date) -> tuple[House, ...]:
    """All properties, the same for the same seed and anchor."""
    rng = Random(f"houses {seed}")
    extra = set(rng.sample([n for n in range(HOUSES) if n not in HALF_KNOWN], SYSTEMS - HOUSES))
    return tuple(_house(Random(f"house {seed} {n}"), n, n in extra, anchor) for n in range(HOUSES))


def _house(rng: Random, n: int, two: bool, anchor: date) -> House:
    canopy = rng.choices(("open", "some", "heavy"), (3, 5, 3))[0]
    codes = [LAYOUTS[n % len(LAYOUTS)]]
    if n in (FAST_CHANNEL, FAILED_PUMP):
        codes = ["channel_pumped_curb"]
    if two:
        codes.append(LAYOUTS[(n + 2) % len(LAYOUTS)])
    taken: set[str] = set()
    systems = []
    for index, code in enumerate(codes):
        system = _system(rng, code, taken, anchor, index, n in HALF_KNOWN)
        taken |= {part.tag for part in system.parts}
        systems.append(system)
    return House(
        number=n,
        address=f"{3 + 2 * n} {people.STREETS[n % len(people.STREETS)]}",
        lat=round(CENTRE[0] + rng.uniform(-0.09, 0.09), 5),
        lon=round(CENTRE[1] + rng.uniform(-0.11, 0.11), 5),
        area=people.AREAS[n % len(people.AREAS)],
        consequence=rng.choices(("building", "outdoor_room", "lawn"), (4, 3, 3))[0],
        canopy="heavy" if n == FAST_CHANNEL else canopy,
        notice_only=rng.random() < 0.3,
        gate_code=f"{rng.randrange(1000, 9999)}#" if rng.random() < 0.4 else "",
        people=_people(rng, n, anchor),
        systems=tuple(systems),
        hazards=_hazards(rng),
    )


def _people(rng: Random, n: int, anchor: date) -> tuple[DemoPerson, ...]:
    since = anchor - timedelta(days=365 * 5)
    owner = DemoPerson(*people.person(rng, n), "owner", since, language="es" if n % 9 == 5 else "en")
    if n != NEW_TENANT:
        return (owner,)
    moved = anchor - timedelta(days=75)
    earlier = DemoPerson(*people.person(rng, 60), "tenant", since, moved)
    return owner, earlier, DemoPerson(*people.person(rng, 61), "tenant", moved)


def _hazards(rng: Random) -> tuple[tuple[str, str, float, float, float | None], ...]:
    found: list[tuple[str, str, float, float, float | None]] = []
    if rng.random() < 0.35:
        found.append(("dog", "keep the side gate shut", 0, 0, None))
    if rng.random() < 0.4:
        found.append(("irrigation", "private line, not on the public marks", rng.randint(5, 30), -8, 6.0))
    if rng.random() < 0.2:
        found.append(("cable", "garden lighting, barely covered", rng.randint(2, 25), -14, 4.0))
    return tuple(found)


def _system(rng: Random, code: str, taken: set[str], anchor: date, index: int, half_known: bool) -> DemoSystem:
    layout = layouts.get(code)
    numbers = {}
    for ask in layout.asks:
        value = min(max(ask.usual * rng.uniform(0.7, 1.25), ask.low), ask.high)
        numbers[ask.name] = float(round(value)) if ask.usual >= 4 else float(ask.usual)
        if ask.name in AREA_TIMES.get(code, {}):
            numbers[ask.name] = float(round(numbers[ask.name] * AREA_TIMES[code][ask.name], -1))
        if ask.name == "slope_percent":
            # Enough fall to stand above a full gutter at the curb.
            numbers[ask.name] = round(rng.uniform(1.8, 3.2), 1)
        if ask.name == "pipe_length_ft" and code != "french_dry_well":
            numbers[ask.name] = float(rng.randrange(28, 46))
        if ask.name in ("basins", "downspouts"):
            numbers[ask.name] = float(rng.choice((1, 2, 2, 3)))
    draft = layouts.draft(code, numbers, taken_tags=taken, certainty="measured")
    installed = None if half_known else anchor - timedelta(days=rng.randrange(500, 2100))
    parts = tuple(
        Part(
            item.key,
            item.kind,
            item.tag,
            {} if half_known else dict(item.dims),
            {} if half_known else dict(item.certainty),
            item.sits_in,
            item.part_of,
            [] if half_known else place,
        )
        for item, place in zip(draft.components, _places(draft, index), strict=True)
    )
    return DemoSystem(NAMES[code], installed, not half_known and rng.random() < 0.85, parts, draft)


def _places(draft: StartingDraft, index: int) -> list[list[list[float]]]:
    """Positions along the back of the house, flow from left to right, down to the street."""
    x, y = 2.0 + 3.0 * index, -6.0 - 12.0 * index
    by_key: dict[str, list[list[float]]] = {}
    for item in draft.components:
        held = item.sits_in or item.part_of
        if held in by_key:
            by_key[item.key] = [by_key[held][-1][:]]
            continue
        length = min(float(item.dims.get("length_ft") or 0.0), 45.0)
        if item.kind == "grate" or not length:
            by_key[item.key] = [[round(x, 1), round(y, 1)]]
            x += 2.0
        else:
            by_key[item.key] = [[round(x, 1), round(y, 1)], [round(x + length, 1), round(y - 1.0, 1)]]
            x, y = x + length, y - 1.0
        if x > 60:
            x, y = 4.0, y - 7.0
    return [by_key[item.key] for item in draft.components]
