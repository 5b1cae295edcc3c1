"""The secret key: made on the first start and kept in the data folder, readable by its owner only."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

NAME = "secret_key"


def kept_key(data: Path) -> str:
    """The key kept in the data folder, or empty if there is none that can be read."""
    try:
        return _read(data)
    except OSError:
        return ""


def _read(data: Path) -> str:
    return (data / NAME).read_text(encoding="ascii").strip()


def keep_key(data: Path) -> str:
    """The kept key, made now if there is none. Two processes that do this at once end with the same key.

    OSError if the folder cannot be written or the key cannot be read.
    """
    data.mkdir(parents=True, exist_ok=True)
    found = kept_key(data)
    if found:
        return found
    draft = data / f".{NAME}.{os.getpid()}.{secrets.token_hex(4)}"
    handle = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "w", encoding="ascii") as file:
        file.write(secrets.token_urlsafe(64))
        file.flush()
        os.fsync(file.fileno())
    try:
        os.link(draft, data / NAME)
    except FileExistsError:
        pass  # another process was first; its key is the one
    except OSError:
        os.replace(draft, data / NAME)  # a file system without hard links
    finally:
        draft.unlink(missing_ok=True)
    return _read(data)
