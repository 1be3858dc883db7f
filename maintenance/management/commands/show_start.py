from typing import Any, Final

from django.core.management.base import BaseCommand

from core import clock
from core.act import by_system
from maintenance.demo import start
from maintenance.management.commands.due import as_table
from maintenance.read.due_table import due_lines

DAYS: Final = 60
MOST_ROWS: Final = 40


class Command(BaseCommand):
    help = "Print what is due in the next 60 days and, for the demo company, how to sign in."

    def handle(self, *args: Any, **options: Any) -> None:
        at = clock.now()
        table = due_lines(act=by_system("start", at=at, via="command"), as_of=None, days=DAYS)
        lines = as_table(table.lines)
        head, rows = lines[:1], lines[1::2]
        self.stdout.write(f"\nDue within {DAYS} days")
        for line in head + rows[:MOST_ROWS]:
            self.stdout.write(line)
        if len(rows) > MOST_ROWS:
            self.stdout.write(
                f"... and {len(rows) - MOST_ROWS} more: manage.py due --days {DAYS} tells all, with reasons"
            )
        self.stdout.write(table.words())
        if start.is_demo():
            self._ways_in(start.ways_in(at=at))

    def _ways_in(self, ways: start.WaysIn) -> None:
        self.stdout.write("\nSign in (invented demo company; also in demo.json of the data folder)")
        for role, who in (("office", ways.office), ("technician", ways.technician)):
            self.stdout.write(f"  {role:<11} {who['user']} / {who['password']}   API token {who['token']}")
        self.stdout.write(f"  {'homeowner':<11} {ways.homeowner}")
        self.stdout.write("Calendar feeds")
        for feed in ways.feeds:
            self.stdout.write(f"  {feed['kind']:<11} {feed['address']}")
        self.stdout.write(f"\nOpen {ways.base}/ ; Ctrl-C stops everything.")
