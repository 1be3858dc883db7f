"""`manage.py import_rain FILE --gauge NAME --unit in|mm|tenth-mm [--apply]`: a rain gauge's record."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from core.act import by_system
from core.problem import Problem
from maintenance import rain, rain_files

SHOWN = 1000


class Command(BaseCommand):
    help = "Read a rain gauge's file (daily summaries, date and rain, or hourly). Changes nothing without --apply."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--gauge", required=True, help="name of the gauge; made if there is none")
        parser.add_argument("--unit", required=True, choices=rain_files.UNITS, help="unit of the rain column")
        parser.add_argument("--zone", default="", help="IANA zone of the gauge; the company's where not given")
        parser.add_argument("--station", default="", help="which station, where the file holds several")
        parser.add_argument("--source", default="", help="where the record comes from, in a line")
        parser.add_argument("--leave-out-bad-rows", action="store_true", help="apply the good rows all the same")
        parser.add_argument("--apply", action="store_true", help="write; without it nothing changes")

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        try:
            done = rain.import_file(
                act=by_system("import_rain", via="command"),
                data=path.read_bytes(),
                gauge_name=options["gauge"],
                unit=options["unit"],
                zone=options["zone"],
                station=options["station"],
                source=options["source"] or path.name,
                leave_out_bad_rows=options["leave_out_bad_rows"],
                apply=options["apply"],
            )
        except OSError as error:
            raise CommandError(f"{path} cannot be read: {error.strerror}.") from error
        except (rain_files.RainFileError, Problem) as error:
            raise CommandError(str(error)) from error
        self._report(done.read)
        self._outcome(done)

    def _outcome(self, done: rain.RainFileImport) -> None:
        result = done.result
        counts = f"{result.new} new rows, {result.corrected} corrected, {result.same} already there"
        if done.refused:
            raise CommandError(
                f"{len(done.read.errors)} rows cannot be taken and nothing was written. Mend them, or give "
                "--leave-out-bad-rows: their days then count as gaps."
            )
        if not done.applied:
            self.stdout.write(f"Dry run: {counts}. Nothing was written; give --apply to write.")
            return
        self.stdout.write(f"Gauge {result.gauge}: {counts}.")
        if result.now_used:
            self.stdout.write(f"The company had named no gauge; forecasts now use {result.gauge}.")

    def _report(self, read: rain_files.RainFile) -> None:
        for report in read.reports[:SHOWN]:
            kind = "error" if report.error else "note"
            self.stdout.write(f"row {report.row}, {report.column} {report.value!r}: {kind}: {report.message}")
        if len(read.reports) > SHOWN:
            self.stdout.write(f"... and {len(read.reports) - SHOWN} more.")
        for first, last in read.gaps:
            self.stdout.write(f"gap: no value from {first} to {last} ({(last - first).days + 1} days)")
        span = f", {read.values[0].day} to {read.values[-1].day}" if read.values else ""
        total = sum(value.depth_mm for value in read.values)
        self.stdout.write(
            f"{read.rows} rows in the layout {read.layout}{span}: {len(read.values)} values, {total:.1f} mm in all, "
            f"{len(read.errors)} errors, {len(read.gaps)} gaps of {read.gap_days} days."
        )
