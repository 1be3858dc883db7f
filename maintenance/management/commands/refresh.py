"""`manage.py refresh`: compute every stale due window now, instead of waiting for the sweep."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from core.act import by_system
from maintenance import refresh


class Command(BaseCommand):
    help = "Compute the due windows of every property whose register, rules, rain or day changed."

    def handle(self, *args: Any, **options: Any) -> None:
        done = refresh.refresh_all(act=by_system("refresh", via="command"))
        self.stdout.write(f"{done} properties computed.")
