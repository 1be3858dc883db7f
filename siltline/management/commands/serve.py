import sys
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management import call_command, get_commands
from django.core.management.base import BaseCommand, CommandError

from siltline import serve
from siltline.claims import CannotServe


class Command(BaseCommand):
    help = "Serve Siltline: web, workers and scheduler as one program, until Ctrl-C."
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--web",
            type=int,
            default=settings.WEB_PROCESSES,
            metavar="N",
            help="web processes that share the port (SILTLINE_WEB_PROCESSES)",
        )
        parser.add_argument("--only", choices=serve.KINDS, help="run this part alone, as containers do")

    def handle(self, *args: Any, web: int, only: str | None, **options: Any) -> None:
        if not 1 <= web <= 64:
            raise CommandError(f"--web {web}: choose 1 to 64 web processes")
        if web > 1 and settings.EMBEDDED:
            self._say(f"{web} web processes without REDIS_URL: each counts the limits per person on its own")
        kinds = (only,) if only else serve.KINDS
        try:
            code = serve.serve(kinds, web_processes=web, say=self._say, announce=self._announce)
        except CannotServe as reason:
            raise CommandError(str(reason)) from reason
        sys.exit(code)

    def _say(self, line: str) -> None:
        try:
            self.stdout.write(line)
            self.stdout.flush()
        except OSError:
            return  # the terminal has gone; the server goes on or stops in order all the same

    def _announce(self) -> None:
        # The demo's due list and sign-in lines.
        if settings.SILTLINE_DEMO and "show_start" in get_commands():
            call_command("show_start", stdout=self.stdout)
