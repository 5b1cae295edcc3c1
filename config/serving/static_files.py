"""Static files, hashed and compressed into the data folder whenever they have changed."""

from __future__ import annotations

import hashlib
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command

from config import VERSION

MARK = "collected"


def fingerprint() -> str:
    """A digest over the name, size and time of every static file, and the program's version."""
    digest = hashlib.sha256(VERSION.encode())
    for finder in get_finders():
        for name, storage in finder.list([]):
            status = Path(storage.path(name)).stat()
            digest.update(f"{name}\0{status.st_size}\0{status.st_mtime_ns}\n".encode())
    return digest.hexdigest()


def collect_if_changed() -> bool:
    """Collects the static files unless those collected last are the same. Whether it did."""
    mark = settings.STATIC_ROOT / MARK
    current = fingerprint()
    has_manifest = (settings.STATIC_ROOT / "staticfiles.json").exists()
    if has_manifest and mark.exists() and mark.read_text(encoding="ascii") == current:
        return False
    call_command("collectstatic", interactive=False, clear=True, verbosity=0)
    mark.write_text(current, encoding="ascii")
    return True
