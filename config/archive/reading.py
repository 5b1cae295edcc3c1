"""Checking an archive from its first to its last byte before anything is done with it."""

from __future__ import annotations

import hashlib
import io
import json
import shutil
import stat
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from typing import Any
from zlib import error as ZlibError  # noqa: N812

from django.conf import settings

from config.archive import ArchiveError
from config.archive import manifest as form
from config.archive.manifest import Manifest, Member
from config.archive.tables import unknown

LARGEST_MANIFEST = 64 << 20
LONGEST_LINE = 64 << 20
CHUNK_BYTES = 1 << 20
# What the reader of ZIP files raises at bytes that are not as they were written.
DAMAGE = (zipfile.BadZipFile, ZlibError, EOFError, NotImplementedError, RuntimeError, ValueError, OverflowError)


class CheckedArchive:
    """An archive whose every member has been found as its manifest says."""

    def __init__(self, file: zipfile.ZipFile, manifest: Manifest) -> None:
        self.file = file
        self.manifest = manifest

    def rows(self, label: str) -> Iterator[dict[str, Any]]:
        """The rows of a table."""
        with self.file.open(self.manifest.tables[label].file) as member:
            for number, text in enumerate(io.TextIOWrapper(member, encoding="utf-8"), start=1):
                try:
                    row = json.loads(text)
                except ValueError as error:
                    raise ArchiveError(f"row {number} of {label} is not JSON") from error
                if not isinstance(row, dict):
                    raise ArchiveError(f"row {number} of {label} is not an object")
                yield row

    def extract_upload(self, name: str, path: Path) -> None:
        """Writes one uploaded file to a path."""
        path.parent.mkdir(parents=True, exist_ok=True)
        with self.file.open(f"uploads/{name}") as member, path.open("xb") as target:
            shutil.copyfileobj(member, target, CHUNK_BYTES)


def is_safe_name(name: str) -> bool:
    """Whether a member's name stays inside the folder it is unpacked into."""
    path = PurePosixPath(name)
    plain = "\\" not in name and "\0" not in name and ":" not in name
    inside = not path.is_absolute() and all(part not in ("..", ".", "") for part in name.split("/"))
    return plain and inside


def _check_names(file: zipfile.ZipFile, wanted: dict[str, Member]) -> None:
    infos = file.infolist()
    names = [info.filename for info in infos]
    if len(set(names)) != len(names):
        raise ArchiveError("it holds two members of one name")
    for info in infos:
        if not is_safe_name(info.filename):
            raise ArchiveError(f"it holds a member with an unsafe name, {info.filename[:100]!r}")
        if stat.S_ISLNK(info.external_attr >> 16):
            raise ArchiveError(f"it holds a link, {info.filename[:100]!r}")
    extra = set(names) - set(wanted) - {form.NAME, form.DIGEST_NAME}
    missing = set(wanted) - set(names)
    if extra or missing:
        word, name = ("an unlisted member", min(extra)) if extra else ("no member", min(missing))
        raise ArchiveError(f"it holds {word} {name[:100]!r}")
    for info in infos:
        if info.filename in wanted and info.file_size != wanted[info.filename].size:
            raise ArchiveError(f"{info.filename[:100]!r} has {info.file_size} bytes, not as many as listed")


def _check_room(manifest: Manifest) -> None:
    needed = 2 * sum(member.size for member in manifest.members().values())
    where = settings.DATA if settings.DATA.exists() else Path(settings.DATA).parent
    free = shutil.disk_usage(where).free
    if needed > free:
        raise ArchiveError(f"it needs {needed // 1_000_000} MB on the disk, of which {free // 1_000_000} MB are free")


def _check_content(file: zipfile.ZipFile, name: str, member: Member) -> None:
    digest, size = hashlib.sha256(), 0
    with file.open(name) as source:
        while data := source.read(CHUNK_BYTES):
            digest.update(data)
            size += len(data)
            if size > member.size:
                raise ArchiveError(f"{name[:100]!r} is longer than listed")
    if digest.hexdigest() != member.sha256:
        raise ArchiveError(f"{name[:100]!r} does not have its checksum: the archive is damaged")


def _manifest(file: zipfile.ZipFile) -> Manifest:
    for name in (form.NAME, form.DIGEST_NAME):
        if name not in file.namelist():
            raise ArchiveError(f"it is not a Sweetground archive (no {name})")
        if file.getinfo(name).file_size > LARGEST_MANIFEST:
            raise ArchiveError(f"{name} is too large")
    data = file.read(form.NAME)
    if hashlib.sha256(data).hexdigest() != file.read(form.DIGEST_NAME).decode("ascii", "replace").strip():
        raise ArchiveError("its manifest does not have its checksum: the archive is damaged")
    try:
        return form.from_json(data.decode("utf-8"))
    except UnicodeDecodeError as error:
        raise ArchiveError("its manifest is not UTF-8") from error


def check(file: zipfile.ZipFile) -> CheckedArchive:
    """Everything that can be known about an archive without a database."""
    manifest = _manifest(file)
    newer = unknown(manifest.migrations)
    if newer:
        name = ".".join(newer[0])
        raise ArchiveError(f"version {manifest.version} wrote it, which is newer than this program (it has {name})")
    wanted = manifest.members()
    _check_names(file, wanted)
    _check_room(manifest)
    for name, member in wanted.items():
        _check_content(file, name, member)
    return CheckedArchive(file, manifest)


def _open(path: Path) -> zipfile.ZipFile:
    try:
        return zipfile.ZipFile(path)
    except FileNotFoundError as error:
        raise ArchiveError("there is no such file") from error
    except DAMAGE as error:
        raise ArchiveError(f"it is not an archive, or damaged ({error})") from error
    except OSError as error:
        raise ArchiveError(f"it cannot be read ({error.strerror})") from error


@contextmanager
def checked(path: Path) -> Iterator[CheckedArchive]:
    """An archive, opened and checked. ArchiveError says in one line what is wrong with it."""
    with _open(path) as file:
        try:
            archive = check(file)
        except DAMAGE as error:
            raise ArchiveError(f"it is damaged ({error})") from error
        except OSError as error:
            raise ArchiveError(f"it cannot be read ({error.strerror})") from error
        yield archive
