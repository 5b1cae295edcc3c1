"""The processes under `start`: kept running, and ended together."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from config.environment import BASE_DIR
from config.serving.orphans import STARTED_BY

PATIENCE_S = 12.0
SHORTEST_LIFE_S = 5.0
MOST_SHORT_LIVES = 5


class GaveUp(Exception):
    """A process ended again and again right after its start."""


@dataclass
class Child:
    """One process to keep running."""

    name: str
    command: Sequence[str]
    process: subprocess.Popen[bytes] | None = None
    born: float = 0.0
    short_lives: int = 0

    def start(self) -> None:
        environment = {**os.environ, STARTED_BY: str(os.getpid())}
        self.process = subprocess.Popen(self.command, env=environment, cwd=BASE_DIR)
        self.born = time.monotonic()

    def has_ended(self) -> bool:
        return self.process is not None and self.process.poll() is not None

    def signal(self, number: signal.Signals) -> None:
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(number)


@dataclass
class Family:
    """Starts its children, replaces those that die, and takes all of them along when it ends."""

    children: list[Child]
    say: Callable[[str], None]
    stopping: threading.Event = field(default_factory=threading.Event)

    def run(self, started: Callable[[], None]) -> None:
        """Until told to stop. Calls `started` once after the children have been started."""
        for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
            signal.signal(number, lambda *_: self.stopping.set())
        try:
            for child in self.children:
                child.start()
            started()
            while not self.stopping.wait(0.2):
                for child in self.children:
                    if child.has_ended():
                        self._replace(child)
        finally:
            self.end()

    def _replace(self, child: Child) -> None:
        assert child.process is not None
        lived = time.monotonic() - child.born
        child.short_lives = child.short_lives + 1 if lived < SHORTEST_LIFE_S else 0
        if child.short_lives >= MOST_SHORT_LIVES:
            raise GaveUp(f"the {child.name} process ended {child.short_lives} times right after its start")
        self.say(f"The {child.name} process ended ({child.process.returncode}); starting it again.")
        if not self.stopping.wait(min(8.0, 0.25 * 2**child.short_lives)):
            child.start()

    def end(self) -> None:
        """Asks every child to finish, and ends those that do not."""
        for child in self.children:
            child.signal(signal.SIGTERM)
        last = time.monotonic() + PATIENCE_S
        for child in self.children:
            if child.process is None:
                continue
            try:
                child.process.wait(max(0.1, last - time.monotonic()))
            except subprocess.TimeoutExpired:
                child.process.kill()
                child.process.wait()


def web(host: str, port: int, workers: int) -> Child:
    return Child("web", [sys.executable, "-m", "config.serving.web", host, str(port), str(workers)])


def jobs() -> Child:
    return Child("jobs", [sys.executable, str(BASE_DIR / "manage.py"), "jobs"])
