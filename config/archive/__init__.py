"""One archive form for both databases: what is backed up, moved between databases, and restored.

An archive is a ZIP file with

- `manifest.json`: form and version, program version, time (UTC), the migrations whose tables these are, and for
  every other member its size in bytes and SHA-256; for a table also its columns and its number of rows;
- `manifest.sha256`: the SHA-256 of `manifest.json`;
- `tables/<app>.<model>.jsonl`: one JSON object a row, ordered by key. Decimals, dates, times (UTC) and UUIDs are
  text, bytes are base64, JSON columns stand as they are;
- `uploads/...`: the uploaded files.

Sessions, sign-in throttling, claims of daily jobs and the task queue are left out: they belong to a running program,
not to a property.
"""

FORM = "sweetground archive"
FORM_VERSION = 1
LEFT_OUT_APPS = frozenset({"sessions", "axes", "django_tasks_database"})
LEFT_OUT_TABLES = frozenset({"config.jobclaim"})


class ArchiveError(Exception):
    """An archive cannot be written, read or restored; the message says why in one line."""
