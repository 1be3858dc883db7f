import sys
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connections

from siltline import prepare, serve
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
        parser.add_argument(
            "--prepare",
            dest="prepare_first",
            action="store_true",
            help="first make the database and static files ready and load the demo into an empty database (`make run`)",
        )

    def handle(self, *args: Any, web: int, only: str | None, prepare_first: bool, **options: Any) -> None:
        if not 1 <= web <= 64:
            raise CommandError(f"--web {web}: choose 1 to 64 web processes")
        if web > 1 and settings.EMBEDDED:
            self._say(f"{web} web processes without REDIS_URL: each counts the limits per person on its own")
        kinds = (only,) if only else serve.KINDS
        if prepare_first and only not in (None, serve.WEB):
            raise CommandError(f"--prepare goes with the web part, not with --only {only}")
        try:
            code = serve.serve(
                kinds,
                web_processes=web,
                say=self._say,
                prepare=self._prepare if prepare_first else None,
                announce=self._announce,
            )
        except CannotServe as reason:
            raise CommandError(str(reason)) from reason
        sys.exit(code)

    def _say(self, line: str) -> None:
        try:
            self.stdout.write(line)
            self.stdout.flush()
        except OSError:
            return  # the terminal has gone; the server goes on or stops in order all the same

    def _prepare(self) -> None:
        for line in prepare.prepare_database():
            self._say(line)
        if settings.SILTLINE_DEMO:
            call_command("load_demo", "--if-empty", stdout=self.stdout)
        connections.close_all()

    def _announce(self) -> None:
        if settings.SILTLINE_DEMO:
            call_command("show_start", stdout=self.stdout)
        connections.close_all()
