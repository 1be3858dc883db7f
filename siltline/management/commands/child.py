from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from siltline import children, lifeline, schedule
from siltline.claims import CannotServe


class Command(BaseCommand):
    help = "Run one part of the server in this process: web, a worker, or beat (the scheduler)."
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("part", choices=["web", "beat", *(worker.name for worker in schedule.WORKERS)])
        parser.add_argument("--lifeline-fd", type=int, help="pipe whose closing ends this process")
        parser.add_argument("--listen-fd", type=int, help="socket that listens already")
        parser.add_argument("--gate-fd", type=int, help="pipe whose closing lets requests in")
        parser.add_argument("--collect-static", action="store_true", help="collect the static files first")

    def handle(
        self,
        *args: Any,
        part: str,
        lifeline_fd: int | None,
        listen_fd: int | None,
        gate_fd: int | None,
        collect_static: bool,
        **options: Any,
    ) -> None:
        if lifeline_fd is not None:
            children.quiet_signals()
            lifeline.hold(lifeline_fd)
        try:
            if part == "web":
                children.web(listen_fd, gate_fd, collect_static)
            elif part == "beat":
                children.beat()
            else:
                children.worker(part)
        except CannotServe as reason:
            raise CommandError(str(reason)) from reason
