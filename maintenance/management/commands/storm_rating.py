"""`manage.py storm_rating [--system UID] [--json]`: what each system carries as new, today and cleaned."""

import json
from argparse import ArgumentParser
from typing import Any
from uuid import UUID

from django.core.management.base import BaseCommand, CommandError

from core import company
from core.act import by_system
from jobs.models import System
from maintenance import rating
from maintenance.read.ratings import ratings, told


class Command(BaseCommand):
    help = "Rate the systems now and print what each carries."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--system", type=UUID, help="uid of one system")
        parser.add_argument("--json", action="store_true", help="everything, as JSON")

    def handle(self, *args: Any, system: UUID | None, json: bool, **options: Any) -> None:
        act = by_system("storm_rating", via="command")
        wanted = System.objects.filter(uid=system) if system else System.objects.all()
        properties = list(wanted.values_list("property_id", flat=True).distinct())
        if system and not properties:
            raise CommandError(f"there is no system {system}")
        rating.rate_properties(act=act, property_ids=properties)
        rows = ratings(act).filter(system__uid=system) if system else ratings(act)
        if json:
            self._as_json(rows)
            return
        units = company.at(act.at).units
        for row in rows.iterator(chunk_size=500):
            self.stdout.write(f"{row.system.property.address}, {row.system.name}")
            for line in told(row, units=units).lines:
                self.stdout.write(f"  {line}")

    def _as_json(self, rows: Any) -> None:
        found = [
            {
                "system": str(row.system.uid),
                "name": row.system.name,
                "property": str(row.system.property.uid),
                "as_new": row.as_new,
                "today": row.today,
                "today_p10": row.today_p10,
                "today_p90": row.today_p90,
                "cleaned": row.cleaned,
                "needs": row.needs,
                **row.detail,
            }
            for row in rows.iterator(chunk_size=500)
        ]
        self.stdout.write(json.dumps(found, indent=1))
