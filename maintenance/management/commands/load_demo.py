from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from core import clock
from maintenance.demo import load


class Command(BaseCommand):
    help = "Load the invented demo company into an empty database."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--if-empty", action="store_true", help="do nothing where there is anything already")
        parser.add_argument("--seed", type=int, default=load.SEED, help="another invented company")

    def handle(self, *args: Any, if_empty: bool, seed: int, **options: Any) -> None:
        if if_empty and not load.is_empty():
            return
        try:
            made = load.load(at=clock.now(), seed=seed)
        except ValueError as error:
            raise CommandError(str(error)) from error
        self.stdout.write(
            f"demo company loaded: {made.properties} properties, {made.systems} systems, "
            f"{made.components} components, {made.visits} past visits (all invented)"
        )
