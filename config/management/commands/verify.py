"""`manage.py verify`: hold the program to the published numbers."""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from agronomy.check_values import MalformedFile, load_rows, package_rows, report_lines, report_object, run


class Command(BaseCommand):
    """Runs check rows without a database; exits 1 if any fails."""

    help = (
        "Run the check values that the program is held to, or those of FILE (same form: "
        "id,calculation,inputs,expected,unit,tolerance,basis,source). Exits 1 if any row fails; needs no "
        "database."
    )
    requires_system_checks: list[str] = []
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", nargs="?", type=Path, metavar="FILE", help="a CSV file of check rows")
        parser.add_argument("--json", action="store_true", help="print the report as JSON and nothing else")

    def handle(self, *args: Any, file: Path | None = None, **options: Any) -> None:
        try:
            outcomes = run(load_rows(file) if file else package_rows())
        except MalformedFile as error:
            raise CommandError(f"{file or 'the check files'}: {error}") from error
        if options["json"]:
            self.stdout.write(json.dumps(report_object(outcomes), indent=1, allow_nan=False))
        else:
            self.stdout.write("\n".join(report_lines(outcomes)))
        if not all(outcome.passed for outcome in outcomes):
            sys.exit(1)
