"""`manage.py backup FILE`: everything in one file."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from config.archive import ArchiveError
from config.archive.writing import write_archive


class Command(BaseCommand):
    """Writes an archive while the program is running."""

    help = (
        "Write the whole database and all uploaded files, as of one moment, into one archive FILE, while the program "
        "is running. `restore FILE` reads it on SQLite and PostgreSQL alike. It holds password digests: keep it "
        "as you would keep a key. The secret key and the settings of the environment are not in it."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE", help="where to write the archive, for instance farm.zip")
        parser.add_argument("--json", action="store_true", help="print what was written as JSON and nothing else")

    def handle(self, *args: Any, file: Path, **options: Any) -> None:
        try:
            manifest = write_archive(file, now=timezone.now())
        except ArchiveError as error:
            raise CommandError(str(error)) from error
        if options["json"]:
            counts = {"rows": manifest.rows, "uploads": len(manifest.uploads)}
            self.stdout.write(json.dumps({"file": str(file), **counts, "made_at": manifest.made_at}))
        else:
            self.stdout.write(
                f"{file}: {manifest.rows} rows of {len(manifest.tables)} tables, {len(manifest.uploads)} uploaded files"
            )
