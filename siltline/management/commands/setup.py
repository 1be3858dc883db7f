from typing import Any

from django.core.management.base import BaseCommand

from siltline import prepare


class Command(BaseCommand):
    help = "Make the database and the static files ready; quick when they are."

    def handle(self, *args: Any, **options: Any) -> None:
        for line in prepare.prepare():
            self.stdout.write(line)
