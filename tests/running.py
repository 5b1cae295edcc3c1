"""A whole installation of its own for a test: data folder, database and processes, driven through HTTP."""

from __future__ import annotations

import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.parse
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from http.cookiejar import CookieJar
from pathlib import Path
from urllib.request import HTTPCookieProcessor, OpenerDirector, Request, build_opener

import psutil
import psycopg
import pytest

from config.environment import BASE_DIR

MANAGER, PASSWORD = "boss", "ploughed-under-9"
PATIENCE_S = 60
_CSRF = re.compile(r'name="csrfmiddlewaretoken" value="([^"]+)"')


def free_port() -> int:
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        return int(trial.getsockname()[1])


def wait_for(condition: Callable[[], object], what: str) -> None:
    """Waits until a condition holds; fails after a minute."""
    last = time.monotonic() + PATIENCE_S
    while not condition():
        assert time.monotonic() < last, f"{what} did not happen in {PATIENCE_S} s"
        time.sleep(0.05)


class Visitor:
    """A browser without pictures: keeps cookies, follows redirects, sends forms with their token."""

    def __init__(self, base: str) -> None:
        self.base = base
        self.opener: OpenerDirector = build_opener(HTTPCookieProcessor(CookieJar()))

    def get(self, path: str) -> str:
        with self.opener.open(self.base + path, timeout=30) as answer:
            return str(answer.read().decode())

    def post(self, path: str, form_at: str | None = None, **fields: str) -> str:
        page = self.get(form_at or path)
        found = _CSRF.search(page)
        assert found, f"no form at {form_at or path}"
        body = urllib.parse.urlencode({"csrfmiddlewaretoken": found[1], **fields}).encode()
        request = Request(self.base + path, data=body, headers={"Referer": self.base + path})
        with self.opener.open(request, timeout=30) as answer:
            return str(answer.read().decode())

    def sign_in(self, name: str = MANAGER, password: str = PASSWORD) -> str:
        return self.post("/sign-in/?next=/settings/password/", username=name, password=password)


@dataclass
class Installation:
    """Where it keeps its data, and the `start` process if it runs."""

    data: Path
    database_url: str = ""
    extra: dict[str, str] = field(default_factory=dict)
    port: int = field(default_factory=free_port)
    process: subprocess.Popen[str] | None = None

    @property
    def base(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def environment(self) -> dict[str, str]:
        dropped = ("SWEETGROUND_", "DATABASE_URL", "DJANGO_", "PUBLIC_URL", "PYTEST")
        kept = {name: value for name, value in os.environ.items() if not name.startswith(dropped)}
        chosen = {"SWEETGROUND_DATA": str(self.data)}
        if self.database_url:
            chosen["DATABASE_URL"] = self.database_url
        return {**kept, **chosen, **self.extra}

    def manage(self, *words: str, ok: bool = True, text: str = "") -> subprocess.CompletedProcess[str]:
        """Runs a command to its end; fails if it did, unless `ok` is False."""
        done = subprocess.run(
            [sys.executable, "manage.py", *words], env=self.environment(), cwd=BASE_DIR, capture_output=True, text=True,
            timeout=PATIENCE_S * 3, input=text,
        )  # fmt: skip
        assert not ok or done.returncode == 0, done.stdout + done.stderr
        return done

    def start(self, *words: str) -> Visitor:
        """Starts it in a process group of its own and waits until it answers."""
        log = self.data.parent / f"{self.data.name}.log"
        with log.open("a", encoding="utf-8") as out:
            self.process = subprocess.Popen(
                [sys.executable, "manage.py", "start", "--port", str(self.port), *words],
                env=self.environment(), cwd=BASE_DIR, stdout=out, stderr=out, text=True, start_new_session=True,
            )  # fmt: skip
        wait_for(lambda: self.answers() or self.process.poll() is not None, "the start")  # type: ignore[union-attr]
        assert self.process.poll() is None, self.log()
        return Visitor(self.base)

    def log(self) -> str:
        return (self.data.parent / f"{self.data.name}.log").read_text(encoding="utf-8")

    def answers(self) -> bool:
        try:
            return "true" in Visitor(self.base).get("/healthz")
        except OSError:
            return False

    def family(self) -> list[psutil.Process]:
        """The start process and everything under it."""
        assert self.process is not None
        top = psutil.Process(self.process.pid)
        return [top, *top.children(recursive=True)]

    def child(self, word: str) -> psutil.Process | None:
        """The process right under `start` whose command holds this word, if it runs."""
        assert self.process is not None
        for one in psutil.Process(self.process.pid).children():
            try:
                if word in one.cmdline():
                    return one
            except psutil.Error:
                continue  # it ended while it was looked at
        return None

    def kill_group(self) -> None:
        """SIGKILL to every process at once, as a power cut would."""
        assert self.process is not None
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        wait_for(lambda: not self.answers(), "the end")
        self.process = None

    def stop(self) -> int:
        """Asks it to end, and waits for that; gives its exit status."""
        assert self.process is not None
        self.process.terminate()
        status = self.process.wait(timeout=PATIENCE_S)
        self.process = None
        return status


def new_database(template: str = "") -> str:
    """The address of a new PostgreSQL database on the test server, a copy of another if named; empty on SQLite."""
    server = os.environ.get("SWEETGROUND_TEST_DATABASE_URL", "")
    if not server:
        return ""
    name = f"installation_{os.urandom(6).hex()}"
    with psycopg.connect(server, autocommit=True) as connection:
        copied = f' TEMPLATE "{database_name(template)}"' if template else ""
        connection.execute(f'CREATE DATABASE "{name}"{copied}')  # type: ignore[arg-type]
    parts = urllib.parse.urlsplit(server)
    return urllib.parse.urlunsplit(parts._replace(path=f"/{name}"))


def database_name(url: str) -> str:
    return urllib.parse.urlsplit(url).path.lstrip("/")


def drop_database(url: str) -> None:
    if url:
        with psycopg.connect(os.environ["SWEETGROUND_TEST_DATABASE_URL"], autocommit=True) as connection:
            connection.execute(f'DROP DATABASE IF EXISTS "{database_name(url)}" WITH (FORCE)')  # type: ignore[arg-type]


@pytest.fixture(scope="session")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Installation]:
    """An installation that has been started once: migrated, with its first manager and its static files."""
    extra = {"SWEETGROUND_MANAGER": MANAGER, "SWEETGROUND_MANAGER_PASSWORD": PASSWORD}
    made = Installation(tmp_path_factory.mktemp("prepared") / "data", new_database(), extra)
    made.start()
    made.stop()
    yield made
    drop_database(made.database_url)


@pytest.fixture
def installation(prepared: Installation, tmp_path: Path) -> Iterator[Installation]:
    """A copy of the prepared installation; whatever of it still runs at the end of the test is ended."""
    shutil.copytree(prepared.data, tmp_path / "data")
    made = Installation(tmp_path / "data", new_database(prepared.database_url) if prepared.database_url else "")
    yield made
    if made.process is not None:
        made.kill_group()
    drop_database(made.database_url)


@pytest.fixture
def bare_installation(tmp_path: Path) -> Iterator[Installation]:
    """An installation that has never been started."""
    made = Installation(tmp_path / "data", new_database())
    yield made
    if made.process is not None:
        made.kill_group()
    drop_database(made.database_url)
