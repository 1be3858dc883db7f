"""`manage.py import_register FILE [--apply] [--json]` and `manage.py import_register --template csv|xlsx`."""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from core.act import by_system
from core.problem import Problem
from jobs.exchange.apply import NotClean, apply
from jobs.exchange.report import as_json, report
from jobs.exchange.template import template
from jobs.exchange.validate import check


class Command(BaseCommand):
    help = "Read a register file (CSV or XLSX). Lists every problem; changes nothing without --apply."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, nargs="?", help="the register file")
        parser.add_argument("--apply", action="store_true", help="write, if there is no problem")
        parser.add_argument("--json", action="store_true", help="the report as JSON")
        parser.add_argument("--template", choices=("csv", "xlsx"), help="write an empty file with all columns")
        parser.add_argument("--output", type=Path, help="where the template goes; else to standard output")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["template"]:
            self._write_template(options["template"], options["output"])
            return
        if options["file"] is None:
            raise CommandError("Give the register file, or --template csv or xlsx for an empty one.")
        try:
            data = options["file"].read_bytes()
        except OSError as error:
            raise CommandError(f"{options['file']} cannot be read: {error.strerror}.") from error
        service = apply if options["apply"] else check
        try:
            checked, refused = service(act=by_system("import_register", via="import"), data=data), ""
        except NotClean as error:
            checked, refused = error.checked, error.detail
        except Problem as error:
            raise CommandError(error.detail) from error
        if options["json"]:
            self.stdout.write(json.dumps(as_json(checked, applied=options["apply"] and not refused), indent=1))
        else:
            self.stdout.write(report(checked, applied=options["apply"] and not refused))
        if checked.problem_count:
            raise CommandError(refused or "Nothing was written. Mend the rows above and run it again.")

    def _write_template(self, file_format: str, output: Path | None) -> None:
        data = template("csv" if file_format == "csv" else "xlsx")
        if output is not None:
            output.write_bytes(data)
            self.stdout.write(f"{output} holds an empty register file.")
        elif file_format == "csv":
            self.stdout.write(data.decode("utf-8"), ending="")
        elif sys.stdout.isatty():
            raise CommandError("A workbook is not for the screen: give --output FILE, or send it to a file.")
        else:
            sys.stdout.buffer.write(data)
