"""Putting an archive in the place of all data: checked first, a snapshot taken, then all or nothing."""

from __future__ import annotations

import datetime as dt
import os
import secrets
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.db import DatabaseError, connection, connections, transaction

from config.archive import ArchiveError
from config.archive.aliases import SQLITE, connection_like
from config.archive.building import build, tables_there
from config.archive.manifest import Manifest
from config.archive.reading import CheckedArchive, checked
from config.archive.snapshots import take_snapshot
from config.archive.tables import applied

LOCK_WAIT = "60s"


@dataclass(frozen=True, slots=True)
class Restored:
    """What a restore did."""

    manifest: Manifest
    snapshot: Path | None


def is_empty_install() -> bool:
    """Whether there is nothing that a restore could destroy: no table, or no person."""
    if connection.vendor == SQLITE and not Path(connection.settings_dict["NAME"]).exists():
        return True
    tables = connection.introspection.table_names()
    if "plots_person" not in tables:
        return True
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM plots_person")
        return bool(cursor.fetchone()[0] == 0)


def restore(path: Path, *, now: dt.datetime) -> Restored:
    """Replaces all data by those of an archive; everybody is signed out by it.

    Order: the archive is checked to its last byte, what is there is put into a snapshot (unless there is
    nothing), the new database is made beside the old one, and takes its place in one step. ArchiveError, with
    nothing changed, if any of it fails.
    """
    with checked(path) as archive:
        snapshot = None if is_empty_install() else take_snapshot("before-restore", now=now)
        with _uploads_ready(archive):
            try:
                _replace(archive)
            except (DatabaseError, sqlite3.Error, OSError) as error:
                raise ArchiveError(f"the database did not take it ({error})") from error
        return Restored(archive.manifest, snapshot)


def _replace(archive: CheckedArchive) -> None:
    if connection.vendor == SQLITE:
        _replace_sqlite(archive)
    else:
        _replace_postgresql(archive)
    connection.close()


def _replace_sqlite(archive: CheckedArchive) -> None:
    """A file made beside the live one, then copied into it by SQLite itself, under its locks and journal.

    Swapping the files instead would leave every open connection on the old one.
    """
    live = Path(connection.settings_dict["NAME"])
    live.parent.mkdir(parents=True, exist_ok=True)
    beside = live.with_name(f".{live.name}.{secrets.token_hex(4)}.restore")
    try:
        with connection_like(NAME=str(beside)) as alias:
            build(alias, archive)
        with closing(sqlite3.connect(beside)) as source, closing(sqlite3.connect(live, timeout=60)) as target:
            source.backup(target)
    finally:
        for end in ("", "-wal", "-shm", "-journal"):
            beside.with_name(beside.name + end).unlink(missing_ok=True)


def _replace_postgresql(archive: CheckedArchive) -> None:
    """Drops, makes and fills the program's tables in one transaction; others wait for it, or see nothing of it."""
    with connection_like() as alias, transaction.atomic(using=alias):
        with connections[alias].cursor() as cursor:
            cursor.execute(f"SET LOCAL lock_timeout = '{LOCK_WAIT}'")
            quoted = [connections[alias].ops.quote_name(name) for name in tables_there(alias, applied(alias))]
            if quoted:
                cursor.execute(f"DROP TABLE {', '.join(quoted)} CASCADE")
        build(alias, archive)


@contextmanager
def _uploads_ready(archive: CheckedArchive) -> Iterator[None]:
    """Uploaded files in place before the rows that name them, and away again if those do not come.

    A file that is there under the same name with other content is replaced only after the rows are there.
    """
    root = Path(settings.MEDIA_ROOT)
    staged = Path(settings.DATA) / f".uploads-{secrets.token_hex(4)}"
    placed: list[Path] = []
    later: list[tuple[Path, Path]] = []
    try:
        for number, (name, member) in enumerate(archive.manifest.uploads.items()):
            target, draft = root / name, staged / str(number)
            archive.extract_upload(name, draft)
            target.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            if not target.exists():
                os.replace(draft, target)
                placed.append(target)
            elif target.stat().st_size != member.size or target.read_bytes() != draft.read_bytes():
                later.append((draft, target))
        yield
        for draft, target in later:
            os.replace(draft, target)
    except BaseException:
        for target in placed:
            target.unlink(missing_ok=True)
        raise
    finally:
        _remove_folder(staged)


def _remove_folder(folder: Path) -> None:
    if folder.is_dir():
        for path in folder.iterdir():
            path.unlink()
        folder.rmdir()
