"""`manage.py export_register FILE [--format csv|xlsx] [--gate-codes]`: the register as a file that imports back."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from core.act import by_system
from jobs.exchange.export import export_register


class Command(BaseCommand):
    help = "Write the register to a file; gate codes only when asked for."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--format", choices=("csv", "xlsx"), help="by the file's ending where not given")
        parser.add_argument("--gate-codes", action="store_true", help="write them too, in plain text")

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        workbook = (options["format"] or path.suffix.casefold().removeprefix(".")) == "xlsx"
        data = export_register(
            act=by_system("export_register", via="command"),
            file_format="xlsx" if workbook else "csv",
            gate_codes=options["gate_codes"],
        )
        try:
            path.write_bytes(data)
        except OSError as error:
            raise CommandError(f"{path} cannot be written: {error.strerror}.") from error
        self.stdout.write(f"{path} holds the register ({len(data):,} bytes).")
