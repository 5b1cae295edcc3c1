"""The daily jobs, and running those that are due."""

from __future__ import annotations

import datetime as dt
import logging
import threading
import traceback
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from django.core.management import call_command
from django.db import close_old_connections
from django.utils import timezone

from config.archive.snapshots import take_daily
from config.jobs.claims import claim, fail, finish, renew

logger = logging.getLogger(__name__)
KEPT_TASKS_DAYS = 14


@dataclass(frozen=True, slots=True)
class DailyJob:
    """What is done once a day, at or after a time of the installation's zone."""

    name: str
    at: dt.time
    run: Callable[[dt.date], object]
    lease: dt.timedelta = dt.timedelta(minutes=10)


def _tidy(day: dt.date) -> None:
    """Drops sessions that have run out and results of tasks long finished."""
    call_command("clearsessions", verbosity=0)
    call_command("prune_db_task_results", min_age_days=KEPT_TASKS_DAYS, verbosity=0)


JOBS: list[DailyJob] = [
    DailyJob("backup", dt.time(2, 15), take_daily, lease=dt.timedelta(minutes=30)),
    DailyJob("tidy", dt.time(3, 30), _tidy),
]


def run_due(owner: str, *, now: dt.datetime | None = None, jobs: Iterable[DailyJob] | None = None) -> list[str]:
    """Runs the jobs that are due and that nobody else has claimed; gives their names.

    A job missed while the program was down runs as soon as it is up again, if the day is still the same.
    """
    moment = now or timezone.now()
    local = timezone.localtime(moment)
    done = []
    for job in JOBS if jobs is None else jobs:
        if local.time() < job.at:
            continue
        if claim(job.name, day=local.date(), owner=owner, now=moment, lease=job.lease) and _run(
            job, day=local.date(), owner=owner
        ):
            done.append(job.name)
    return done


def _run(job: DailyJob, *, day: dt.date, owner: str) -> bool:
    with _Lease(job, day=day, owner=owner):
        try:
            job.run(day)
        except Exception:
            logger.exception("the daily job %s failed", job.name)
            fail(job.name, day=day, owner=owner, now=timezone.now(), trouble=traceback.format_exc())
            return False
    return finish(job.name, day=day, owner=owner, now=timezone.now())


class _Lease:
    """Renews a claim while its job is at work, so that a long job is not taken over."""

    def __init__(self, job: DailyJob, *, day: dt.date, owner: str) -> None:
        self.job, self.day, self.owner = job, day, owner
        self.over = threading.Event()
        self.thread = threading.Thread(target=self._keep, name=f"lease-{job.name}", daemon=True)

    def __enter__(self) -> None:
        self.thread.start()

    def __exit__(self, *exc: object) -> None:
        self.over.set()
        self.thread.join()

    def _keep(self) -> None:
        while not self.over.wait(self.job.lease.total_seconds() / 3):
            renew(self.job.name, day=self.day, owner=self.owner, until=timezone.now() + self.job.lease)
            close_old_connections()
