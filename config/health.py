"""Whether this installation can do its work: database, migrations, room on the disk."""

from __future__ import annotations

import shutil
from dataclasses import dataclass, field

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor

LEAST_FREE_MB = 100


@dataclass(frozen=True, slots=True)
class Readiness:
    """What was looked at, and for each what is wrong (empty: nothing)."""

    problems: dict[str, str] = field(default_factory=dict)

    @property
    def is_ready(self) -> bool:
        return not any(self.problems.values())

    def as_dict(self) -> dict[str, object]:
        return {"ready": self.is_ready, **{name: text or "ok" for name, text in self.problems.items()}}


def _database() -> tuple[str, str]:
    """What is wrong with the database, and with its migrations."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
        executor = MigrationExecutor(connection)
        waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError:
        return "cannot be reached", "not known"
    return "", f"{len(waiting)} not applied" if waiting else ""


def _disk() -> str:
    try:
        free_mb = shutil.disk_usage(settings.DATA).free // 1_000_000
    except OSError:
        return "the data folder cannot be read"
    return "" if free_mb >= LEAST_FREE_MB else f"{free_mb} MB free, at least {LEAST_FREE_MB} MB wanted"


def readiness() -> Readiness:
    """Looks at everything that a request needs. Says nothing that a stranger could use."""
    database, migrations = _database()
    return Readiness({"database": database, "migrations": migrations, "disk": _disk()})
