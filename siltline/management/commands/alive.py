from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from core import clock, health
from siltline import serve


class Command(BaseCommand):
    help = "Exit 0 when the named parts showed life lately, 1 when not: for health checks of containers."
    requires_system_checks = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("part", nargs="+", choices=[serve.WEB, *health.EXPECTED])

    def handle(self, *args: Any, part: list[str], **options: Any) -> None:
        if serve.WEB in part and not serve.answers(serve.local_url(), timeout_s=8):
            raise CommandError(f"Web: no answer at {serve.local_url()}/")
        signs = [sign for sign in health.report(at=clock.now()).signs if sign.name in part]
        silent = [sign for sign in signs if not sign.alive]
        if silent:
            raise CommandError(
                "; ".join(
                    f"{sign.words}: last sign of life {sign.at:%Y-%m-%d %H:%M:%S} UTC"
                    if sign.at
                    else f"{sign.words}: no sign of life"
                    for sign in silent
                )
            )
