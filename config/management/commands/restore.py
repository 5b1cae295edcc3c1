"""`manage.py restore FILE`: an archive in the place of all data."""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from config.archive import ArchiveError
from config.archive.restoring import is_empty_install, restore


class Command(BaseCommand):
    """Checks, takes a snapshot, and replaces; all or nothing."""

    help = (
        "Replace all data by those of the archive FILE: the archive is checked first, what is there goes into a "
        "snapshot in the data folder, and either everything is replaced or nothing. Everybody is signed out. An "
        "archive of an older version is brought up to this one. Asks before it destroys anything."
    )
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE", help="an archive written by `backup`")
        parser.add_argument("--yes", action="store_true", help="do not ask")
        parser.add_argument("--json", action="store_true", help="print what was done as JSON and nothing else")

    def handle(self, *args: Any, file: Path, **options: Any) -> None:
        if not options["yes"] and not is_empty_install():
            self._ask()
        try:
            done = restore(file, now=timezone.now())
        except ArchiveError as error:
            raise CommandError(f"{file}: {error}. Nothing was changed.") from error
        if options["json"]:
            told = {"rows": done.manifest.rows, "made_at": done.manifest.made_at, "snapshot": _text(done.snapshot)}
            self.stdout.write(json.dumps(told))
            return
        self.stdout.write(f"Restored {done.manifest.rows} rows as they were at {done.manifest.made_at}.")
        if done.snapshot:
            self.stdout.write(f"What was there before is in {done.snapshot}.")

    def _ask(self) -> None:
        if not sys.stdin.isatty():
            raise CommandError("there are data already; give --yes to replace them all")
        answer = input("This replaces all plots, tests, records and people. Type 'replace' to go on: ")
        if answer.strip() != "replace":
            raise CommandError("nothing was changed")


def _text(path: Path | None) -> str | None:
    return str(path) if path else None
