"""Archives kept in the data folder: before something risky, and day by day."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from django.conf import settings
from django.utils import timezone

from config.archive.writing import write_archive

KEPT_SNAPSHOTS = 5
KEPT_DAILY = 14
DAILY = "daily"


def folder() -> Path:
    """Where archives are kept."""
    return Path(settings.DATA) / "backups"


def take_snapshot(why: str, *, now: dt.datetime) -> Path:
    """An archive of all data as they are, named by its reason and time; the oldest of its kind are dropped."""
    stamp = timezone.localtime(now).strftime("%Y-%m-%d-%H%M%S-%f")
    path = folder() / f"{why}-{stamp}.zip"
    write_archive(path, now=now)
    rotate(why, KEPT_SNAPSHOTS)
    return path


def take_daily(day: dt.date) -> Path:
    """The day's archive; earlier ones beyond the number kept are dropped only once it is written."""
    path = folder() / f"{DAILY}-{day:%Y-%m-%d}.zip"
    write_archive(path, now=timezone.now())
    rotate(DAILY, KEPT_DAILY)
    return path


def rotate(kind: str, keep: int) -> list[Path]:
    """Drops the oldest archives of a kind beyond `keep`; gives those dropped."""
    found = sorted(folder().glob(f"{kind}-*.zip"))
    dropped = found[: max(0, len(found) - keep)]
    for path in dropped:
        path.unlink(missing_ok=True)
    return dropped


def kept() -> list[Path]:
    """All archives kept, the newest first."""
    return sorted(folder().glob("*.zip"), key=lambda path: path.stat().st_mtime, reverse=True)
