"""`manage.py start`: the whole installation with one command."""

from __future__ import annotations

import http.client
import os
import sys
import threading
import time
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from config import demo
from config.environment import BASE_DIR, demo_password
from config.serving import family, first_run, ports, static_files


class Command(BaseCommand):
    """Prepares what is missing, then serves until told to stop."""

    help = (
        "Serve Sweetground: bring the database up to date (after a snapshot), make the first manager, collect static "
        "files, then run the web server and the jobs process until stopped."
    )
    requires_system_checks: list[str] = []
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to serve on (default: this machine only)")
        parser.add_argument("--port", type=_port, default=8000, help="port to serve on (default: 8000)")
        parser.add_argument("--workers", type=_workers, default=2, help="web processes (default: 2)")
        parser.add_argument("--manager", default="", metavar="NAME", help="name of the first manager")
        parser.add_argument("--password", default="", help="theirs; better in SWEETGROUND_MANAGER_PASSWORD")
        parser.add_argument("--no-jobs", action="store_true", help="leave the jobs process to another container")
        parser.add_argument("--demo", action="store_true", help="an invented property in a database of its own")

    def handle(self, *args: Any, **options: Any) -> None:
        os.umask(0o077)  # what is written is the account's own: passwords' digests, uploads, the secret key
        host, port = options["host"], options["port"]
        trouble = ports.problem_with(host, port)
        if trouble:
            raise CommandError(trouble)
        if options["demo"] and not settings.IS_DEMO:
            self._become_demo(host)
        try:
            self._prepare(options)
        except first_run.CannotStart as error:
            raise CommandError(str(error)) from error
        children = [family.web(host, port, options["workers"])]
        self._serve(host, port, children if options["no_jobs"] else [*children, family.jobs()])

    def _become_demo(self, host: str) -> None:
        """Starts over with the demonstration's own data folder, so that nothing reaches the real one."""
        if not ports.is_loopback(host) and not demo_password():
            raise CommandError(
                "a demonstration that others can reach needs a password of your choice: set SWEETGROUND_DEMO_PASSWORD"
            )
        os.environ.update(SWEETGROUND_DEMO="1", SWEETGROUND_DATA=str(settings.DATA / "demo"))
        for name in ("DATABASE_URL", "DATABASE_URL_FILE"):
            os.environ.pop(name, None)
        os.execv(sys.executable, [sys.executable, str(BASE_DIR / "manage.py"), *sys.argv[1:]])

    def _prepare(self, options: dict[str, Any]) -> None:
        first_run.prepare_data_folder(settings.DATA)
        first_run.refuse_newer_database()
        first_run.migrate(self._say)
        if settings.IS_DEMO:
            for name, password in demo.build(today=timezone.localdate()).items():
                self._say(f"Sign in as {name} with the password {password}")
        else:
            person = first_run.ensure_first_manager(name=options["manager"], password=options["password"])
            if person is not None:
                self._say(f"The first manager is {person.username}.")
        static_files.collect_if_changed()

    def _serve(self, host: str, port: int, children: list[family.Child]) -> None:
        household = family.Family(children, say=self._say)
        try:
            household.run(lambda: threading.Thread(target=self._tell_when_up, args=(host, port), daemon=True).start())
        except family.GaveUp as error:
            raise CommandError(f"{error}; what it wrote above says why") from error
        self._say("Stopped.")

    def _tell_when_up(self, host: str, port: int) -> None:
        address = "127.0.0.1" if host in ("0.0.0.0", "") else "::1" if host == "::" else host
        for _ in range(600):
            try:
                connection = http.client.HTTPConnection(address, port, timeout=5)
                connection.request("GET", "/healthz")
                if connection.getresponse().status == 200:
                    break
            except OSError:
                time.sleep(0.1)
        shown = f"[{address}]" if ":" in address else address
        self._say(f"Sweetground is at {settings.PUBLIC_URL or f'http://{shown}:{port}'}/ (stop it with Ctrl-C)")
        if not settings.PUBLIC_URL and not ports.is_loopback(host):
            self._say("Other machines are refused until PUBLIC_URL names the address by which they come.")

    def _say(self, text: str) -> None:
        self.stdout.write(text)
        self.stdout.flush()


def _port(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 65535:
        raise ValueError(text)
    return int(text)


def _workers(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 64:
        raise ValueError(text)
    return int(text)
