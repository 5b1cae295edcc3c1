"""`manage.py jobs`: daily jobs and queued tasks."""

from __future__ import annotations

import os
import signal
from argparse import ArgumentParser
from typing import Any

from apscheduler.schedulers.background import BackgroundScheduler
from django.core.management.base import BaseCommand
from django.db import close_old_connections

from config.jobs.daily import JOBS, run_due
from config.jobs.worker import give_back_orphaned_tasks, make_worker, owner_name
from config.serving.orphans import STARTED_BY, end_with_starter


def _run_due() -> None:
    close_old_connections()
    try:
        run_due(owner_name())
    finally:
        close_old_connections()


class Command(BaseCommand):
    """Runs until told to stop, or once."""

    help = (
        "Do the daily jobs when they are due, and the tasks in the queue as they come. `start` runs one of these; "
        "with several machines on one database each may run one, since a job is claimed before it is done."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--once", action="store_true", help="do what is due now, then end")
        parser.add_argument("--list", action="store_true", help="list the daily jobs and their times, then end")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["list"]:
            for job in JOBS:
                self.stdout.write(f"{job.at:%H:%M} {job.name}")
            return
        give_back_orphaned_tasks()
        if options["once"]:
            run_due(owner_name())
            make_worker(batch=True).run()
            return
        self._keep_on()

    def _keep_on(self) -> None:
        end_with_starter()
        scheduler = BackgroundScheduler()
        scheduler.add_job(_run_due, "interval", minutes=1, coalesce=True, max_instances=1)
        worker = make_worker()
        worker.configure_signals()
        if os.environ.get(STARTED_BY):
            # Ctrl-C reaches every process of the terminal; `start` then asks this one to finish what it is at.
            signal.signal(signal.SIGINT, signal.SIG_IGN)
        scheduler.start()
        _run_due()
        try:
            worker.run()
        finally:
            scheduler.shutdown(wait=False)
