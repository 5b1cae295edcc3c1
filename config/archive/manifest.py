"""What an archive says about itself."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from config import VERSION
from config.archive import FORM, FORM_VERSION, ArchiveError
from config.archive.tables import Node

NAME = "manifest.json"
DIGEST_NAME = "manifest.sha256"


@dataclass(frozen=True, slots=True)
class Member:
    """A file in the archive: size in bytes and SHA-256."""

    size: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Table:
    """A table in the archive."""

    file: str
    columns: tuple[str, ...]
    rows: int
    member: Member


@dataclass(frozen=True, slots=True)
class Manifest:
    """Everything that must be known before an archive is trusted."""

    made_at: str
    migrations: tuple[Node, ...]
    tables: Mapping[str, Table] = field(default_factory=dict)
    uploads: Mapping[str, Member] = field(default_factory=dict)
    version: str = VERSION

    @property
    def rows(self) -> int:
        return sum(table.rows for table in self.tables.values())

    def members(self) -> dict[str, Member]:
        """Every file that the archive must hold, by its name in it."""
        tables = {table.file: table.member for table in self.tables.values()}
        return {**tables, **{f"uploads/{name}": member for name, member in self.uploads.items()}}

    def to_json(self) -> str:
        return json.dumps(
            {
                "form": FORM,
                "form_version": FORM_VERSION,
                "program_version": self.version,
                "made_at": self.made_at,
                "migrations": [list(node) for node in self.migrations],
                "tables": {
                    label: {
                        "file": table.file,
                        "columns": list(table.columns),
                        "rows": table.rows,
                        "bytes": table.member.size,
                        "sha256": table.member.sha256,
                    }
                    for label, table in self.tables.items()
                },
                "uploads": {
                    name: {"bytes": member.size, "sha256": member.sha256} for name, member in self.uploads.items()
                },
            },
            indent=1,
            sort_keys=True,
        )


def _member(found: Mapping[str, Any]) -> Member:
    size, sha256 = found["bytes"], found["sha256"]
    if not isinstance(size, int) or size < 0 or not isinstance(sha256, str) or len(sha256) != 64:
        raise ValueError("a size or a checksum is missing")
    return Member(size, sha256)


def from_json(text: str) -> Manifest:
    """The manifest read from its JSON; ArchiveError if it is not one of ours or of a newer form."""
    try:
        found = json.loads(text)
        if found["form"] != FORM:
            raise ArchiveError("it is not a Sweetground archive")
        if found["form_version"] > FORM_VERSION:
            raise ArchiveError("it has a newer form than this program knows; restore it with a newer version")
        tables = {
            str(label): Table(str(t["file"]), tuple(map(str, t["columns"])), int(t["rows"]), _member(t))
            for label, t in found["tables"].items()
        }
        uploads = {str(name): _member(upload) for name, upload in found["uploads"].items()}
        migrations = tuple((str(app), str(name)) for app, name in found["migrations"])
        made_at = dt.datetime.fromisoformat(found["made_at"]).isoformat()
        return Manifest(made_at, migrations, tables, uploads, str(found["program_version"]))
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise ArchiveError(f"its manifest cannot be read ({error})") from error
