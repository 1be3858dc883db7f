"""Loads the demo company: a pure function of seed and anchor date, the anchor being the day of loading."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from core import clock
from core.act import by_system
from jobs.models import Customer, Property
from maintenance import refresh
from maintenance.demo import past, register, scenes
from maintenance.demo.houses import houses
from maintenance.demo.years import owner_done, past_visits
from maintenance.models import Visit

SEED = 20417


@dataclass(frozen=True)
class Loaded:
    """How much there is."""

    properties: int
    systems: int
    components: int
    visits: int


def is_empty() -> bool:
    """Nothing of anyone's is in the database yet."""
    return not (Property.objects.exists() or Customer.objects.exists() or Visit.objects.exists())


def load(*, at: datetime, seed: int = SEED) -> Loaded:
    """Write the demo company into an empty database, then compute its windows and set its present scene.

    Raises ValueError where the database holds anything: the demo never mixes with a company's own records.
    """
    if not is_empty():
        raise ValueError("the database is not empty: the demo company is loaded into an empty one only")
    anchor: date = clock.local_date(at, register.ZONE)
    written = register.Written()
    all_houses = houses(seed, anchor)
    done = [visit for house in all_houses for visit in past_visits(house, seed, anchor)]
    now = by_system("demo", at=at, via="demo")
    # One transaction: a load that is broken off leaves the database empty, to be loaded again.
    with transaction.atomic():
        act = register.write_company(seed, anchor)
        register.write_people(written)
        register.write_register(act, all_houses, written)
        past.write_past(done, written)
        for house in all_houses:
            past.write_owner_tasks(house.number, owner_done(house, seed, anchor), written)
        refresh.refresh_all(act=now)
        scenes.bring_about(written, now)
    return Loaded(len(written.properties), len(written.systems), len(written.parts), len(done))
