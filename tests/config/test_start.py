"""`manage.py start` as an operator meets it: first and second start, refusals in one line, and its processes."""

from __future__ import annotations

import os
import signal
import socket
import sqlite3
from contextlib import closing
from pathlib import Path

import psutil
import psycopg
import pytest

from tests.running import MANAGER, PASSWORD, Installation, Visitor, wait_for

pytestmark = pytest.mark.database


def last_line(text: str) -> str:
    return text.strip().splitlines()[-1]


def test_the_first_start_makes_what_is_missing_and_the_second_keeps_it(bare_installation: Installation):
    bare_installation.extra = {"SWEETGROUND_MANAGER": MANAGER, "SWEETGROUND_MANAGER_PASSWORD": PASSWORD}
    visitor = bare_installation.start()
    assert "The first manager is boss." in bare_installation.log()
    assert "Change your password" in visitor.sign_in()
    key = (bare_installation.data / "secret_key").read_text()
    assert bare_installation.stop() == 0

    bare_installation.extra = {}
    again = bare_installation.start()
    assert "Change your password" in again.sign_in()
    assert "Change your password" in visitor.get("/settings/password/")  # the session goes on: the key is the same
    assert (bare_installation.data / "secret_key").read_text() == key
    assert (bare_installation.data / "secret_key").stat().st_mode & 0o077 == 0


def test_without_a_manager_and_without_a_terminal_it_says_what_is_wanted(bare_installation: Installation):
    done = bare_installation.manage("start", "--port", str(bare_installation.port), ok=False)
    assert done.returncode != 0
    assert "give --manager NAME" in last_line(done.stderr)
    assert "Traceback" not in done.stderr


def test_a_weak_password_is_refused(bare_installation: Installation):
    words = ("start", "--port", str(bare_installation.port), "--manager", "boss", "--password", "boss1")
    done = bare_installation.manage(*words, ok=False)
    assert done.returncode != 0
    assert "too short" in last_line(done.stderr)


def test_a_busy_port_gets_one_line(installation: Installation):
    with socket.socket() as busy:
        busy.bind(("127.0.0.1", installation.port))
        busy.listen()
        done = installation.manage("start", "--port", str(installation.port), ok=False)
    assert done.returncode != 0
    assert done.stderr.strip().splitlines() == [
        f"CommandError: 127.0.0.1 port {installation.port} is in use by another program; choose another with --port"
    ]


def test_a_data_folder_that_cannot_be_written_gets_one_line(installation: Installation, tmp_path: Path):
    (tmp_path / "file").write_text("in the way")
    installation.extra = {"SWEETGROUND_DATA": str(tmp_path / "file" / "data")}
    done = installation.manage("start", "--port", str(installation.port), ok=False)
    assert done.returncode != 0
    assert len(done.stderr.strip().splitlines()) == 1
    assert "cannot be written" in done.stderr


def _apply(installation: Installation, name: str) -> None:
    """Notes a migration as applied, as a newer version of the program would."""
    statement = f"INSERT INTO django_migrations (app, name, applied) VALUES ('amendments', '{name}', CURRENT_TIMESTAMP)"
    if installation.database_url:
        with psycopg.connect(installation.database_url, autocommit=True) as connection:
            connection.execute(statement)  # type: ignore[arg-type]
        return
    with closing(sqlite3.connect(installation.data / "sweetground.sqlite3")) as connection:
        connection.execute(statement)
        connection.commit()


def test_a_newer_database_gets_one_line(installation: Installation):
    _apply(installation, "0999_of_the_future")
    done = installation.manage("start", "--port", str(installation.port), ok=False)
    assert done.returncode != 0
    assert len(done.stderr.strip().splitlines()) == 1
    assert "newer than this program (it has amendments.0999_of_the_future)" in done.stderr


def test_wrong_settings_are_told_without_a_traceback(installation: Installation):
    installation.extra = {"PUBLIC_URL": "plots", "TIME_ZONE": "Farm"}
    done = installation.manage("start", ok=False)
    assert done.returncode != 0
    assert [line.split(":")[0] for line in done.stderr.strip().splitlines()] == [
        "The settings are wrong", "PUBLIC_URL", "TIME_ZONE",
    ]  # fmt: skip


def test_a_database_that_is_not_there_gets_one_line(installation: Installation):
    installation.extra = {"DATABASE_URL": "postgresql://nobody@127.0.0.1:1/nothing"}
    done = installation.manage("start", "--port", str(installation.port), ok=False)
    assert done.returncode != 0
    assert len(done.stderr.strip().splitlines()) == 1
    assert "database cannot be opened" in done.stderr


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_stop_ends_everything(installation: Installation, number: signal.Signals):
    installation.start()
    assert installation.process is not None
    family = installation.family()
    assert len(family) >= 4  # start, web, its workers, jobs
    installation.process.send_signal(number)
    assert installation.process.wait(timeout=30) == 0
    assert [one for one in family if one.is_running() and one.status() != psutil.STATUS_ZOMBIE] == []
    installation.process = None


def test_nothing_outlives_a_start_that_was_killed(installation: Installation):
    installation.start()
    assert installation.process is not None
    family = installation.family()
    os.kill(installation.process.pid, signal.SIGKILL)
    installation.process.wait()
    wait_for(lambda: not any(one.is_running() for one in family), "the end of the children")
    installation.process = None


def test_whatever_dies_is_started_again(installation: Installation):
    visitor = installation.start()
    for word in ("jobs", "config.serving.web"):
        old = installation.child(word)
        assert old is not None
        old.kill()
        wait_for(lambda word=word, old=old: installation.child(word) not in (None, old), f"a new {word}")
    wait_for(installation.answers, "an answer")
    assert "Sign in" in visitor.get("/sign-in/")


def test_a_web_worker_that_dies_is_replaced(installation: Installation):
    installation.start()
    web = installation.child("config.serving.web")
    assert web is not None
    before = {one.pid for one in web.children()}
    web.children()[0].kill()
    wait_for(lambda: {one.pid for one in web.children()} - before, "a new worker")
    wait_for(installation.answers, "an answer")
    assert web.is_running()


def test_only_the_named_host_is_answered(installation: Installation):
    installation.extra = {"PUBLIC_URL": f"http://localhost:{installation.port}"}
    installation.start()
    assert "Sign in" in Visitor(f"http://localhost:{installation.port}").get("/sign-in/")
    with pytest.raises(OSError, match="400"):
        Visitor(installation.base).get("/sign-in/")  # by number, which is not the name


def test_a_demonstration_others_can_reach_needs_a_password_of_ones_own(installation: Installation):
    done = installation.manage("start", "--demo", "--host", "0.0.0.0", "--port", str(installation.port), ok=False)
    assert done.returncode != 0
    assert "SWEETGROUND_DEMO_PASSWORD" in last_line(done.stderr)
    assert not (installation.data / "demo").exists()
