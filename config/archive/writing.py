"""Writing an archive while the program is running."""

from __future__ import annotations

import datetime as dt
import hashlib
import os
import secrets
import zipfile
from collections.abc import Iterator
from pathlib import Path

from django.conf import settings
from django.db import DatabaseError, models

from config.archive import ArchiveError
from config.archive import manifest as form
from config.archive.aliases import one_moment
from config.archive.manifest import Manifest, Member, Table
from config.archive.tables import applied, archived
from config.archive.values import as_json, line

CHUNK_ROWS = 2_000
CHUNK_BYTES = 1 << 20


def table_lines(model: type[models.Model], alias: str) -> Iterator[str]:
    """A table's rows as lines of JSON, by key."""
    columns = [column.attname for column in model._meta.concrete_fields]
    rows = model._base_manager.using(alias).order_by("pk").values_list(*columns)
    for row in rows.iterator(chunk_size=CHUNK_ROWS):
        yield line({name: as_json(value) for name, value in zip(columns, row, strict=True)})


def _write_table(archive: zipfile.ZipFile, model: type[models.Model], alias: str) -> Table:
    name = f"tables/{model._meta.label_lower}.jsonl"
    digest, size, rows = hashlib.sha256(), 0, 0
    with archive.open(name, "w", force_zip64=True) as member:
        for text in table_lines(model, alias):
            data = (text + "\n").encode()
            member.write(data)
            digest.update(data)
            size, rows = size + len(data), rows + 1
    columns = tuple(column.attname for column in model._meta.concrete_fields)
    return Table(name, columns, rows, Member(size, digest.hexdigest()))


def _write_upload(archive: zipfile.ZipFile, path: Path, name: str) -> Member:
    digest, size = hashlib.sha256(), 0
    with path.open("rb") as file, archive.open(f"uploads/{name}", "w", force_zip64=True) as member:
        while data := file.read(CHUNK_BYTES):
            member.write(data)
            digest.update(data)
            size += len(data)
    return Member(size, digest.hexdigest())


def uploaded_files() -> dict[str, Path]:
    """All uploaded files by their name under the uploads folder."""
    root = Path(settings.MEDIA_ROOT)
    if not root.is_dir():
        return {}
    found = sorted(path for path in root.rglob("*") if path.is_file() and not path.is_symlink())
    return {path.relative_to(root).as_posix(): path for path in found}


def _write(archive: zipfile.ZipFile, *, now: dt.datetime, source: str) -> Manifest:
    with one_moment(source) as alias:
        nodes = applied(alias)
        tables = {model._meta.label_lower: _write_table(archive, model, alias) for model in archived(nodes)}
    # After the rows: a file named in them was there before them, and files are not changed once written.
    uploads = {name: _write_upload(archive, path, name) for name, path in uploaded_files().items()}
    made_at = now.astimezone(dt.UTC).isoformat()
    manifest = Manifest(made_at, tuple(nodes), tables, uploads)
    text = manifest.to_json()
    archive.writestr(form.NAME, text)
    archive.writestr(form.DIGEST_NAME, hashlib.sha256(text.encode()).hexdigest() + "\n")
    return manifest


def write_archive(path: Path, *, now: dt.datetime, source: str = "default") -> Manifest:
    """Writes everything of the database `source` and all uploads into one file at `path`, or leaves no file there.

    Read as of one moment, without keeping anybody from writing. The file is for its owner only, since it holds
    password digests. ArchiveError if it cannot be written.
    """
    draft = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle = os.open(draft, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "r+b") as file:
            with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive:
                manifest = _write(archive, now=now, source=source)
            file.flush()
            os.fsync(file.fileno())
        os.replace(draft, path)
    except OSError as error:
        raise ArchiveError(f"{path} cannot be written: {error.strerror or error}") from error
    except DatabaseError as error:
        raise ArchiveError(f"the database cannot be read: {error}") from error
    finally:
        draft.unlink(missing_ok=True)
    return manifest
