"""Archives made, taken apart and spoilt for tests."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import zipfile
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils import timezone

from config.archive.manifest import Manifest
from config.archive.writing import write_archive
from plots.models import Person, Property, Role
from tests.factories import give_role, make_person

Files = dict[str, bytes]


def furnish(name: str = "HOME") -> Property:
    """A property with rows of many kinds: decimals, JSON, dates, links both ways, accents."""
    person = make_person(f"manager of {name}")
    ground = Property(
        code=name,
        name="Señor Müller’s ground “east”",
        target_by_crop={"white_clover": "6.5", "a": [1, 2.5, None, True]},
        trigger_gap=Decimal("0.25"),
    )
    ground.save()
    give_role(person, ground, Role.Kind.MANAGER)
    Person.objects.filter(pk=person.pk).update(last_property=ground, last_login=timezone.now())
    ground.name = "Müller’s ground"
    ground.save()
    return ground


def write(path: Path, *, source: str = "default") -> Manifest:
    return write_archive(path, now=timezone.now(), source=source)


def contents(manifest: Manifest) -> dict[str, str]:
    """The digest of every table."""
    return {label: table.member.sha256 for label, table in manifest.tables.items()}


def unpacked(path: Path) -> Files:
    with zipfile.ZipFile(path) as file:
        return {name: file.read(name) for name in file.namelist()}


def packed(path: Path, files: Files) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as file:
        for name, data in files.items():
            file.writestr(name, data)
    return path


def relisted(files: Files, change: Callable[[dict[str, Any]], None] = lambda manifest: None) -> Files:
    """The files with their sizes and checksums listed anew, after a change of the manifest: a forger's archive."""
    manifest = json.loads(files["manifest.json"])
    for table in manifest["tables"].values():
        data = files.get(table["file"], b"")
        table.update(bytes=len(data), sha256=hashlib.sha256(data).hexdigest(), rows=data.count(b"\n"))
    change(manifest)
    text = json.dumps(manifest).encode()
    return {**files, "manifest.json": text, "manifest.sha256": hashlib.sha256(text).hexdigest().encode()}


def upload(name: str, data: bytes) -> Path:
    """A file among the uploads."""
    path = Path(settings.MEDIA_ROOT) / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    return path


def moment() -> dt.datetime:
    return timezone.now()
