"""Daily jobs happen once a day whoever asks, and again if their owner dies; queued tasks are done."""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.core.management import call_command
from django.db import connections
from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from config.archive import snapshots
from config.jobs import daily
from config.jobs.claims import MOST_ATTEMPTS, claim, fail, finish, renew
from config.jobs.daily import JOBS, DailyJob, run_due
from config.jobs.worker import give_back_orphaned_tasks, owner_name
from config.models import JobClaim
from tests.config.queued import fall_over, rename
from tests.factories import make_property

pytestmark = pytest.mark.django_db
DAY = dt.date(2026, 11, 25)
LEASE = dt.timedelta(minutes=10)


def at(hour: int, minute: int = 0, day: dt.date = DAY) -> dt.datetime:
    return timezone.make_aware(dt.datetime.combine(day, dt.time(hour, minute)))


def test_a_job_is_claimed_once_a_day():
    assert claim("tidy", day=DAY, owner="a:1", now=at(4), lease=LEASE)
    assert not claim("tidy", day=DAY, owner="b:2", now=at(4), lease=LEASE)
    assert claim("tidy", day=DAY + dt.timedelta(days=1), owner="b:2", now=at(4), lease=LEASE)
    assert claim("backup", day=DAY, owner="b:2", now=at(4), lease=LEASE)


def test_a_job_whose_owner_died_is_taken_over_when_the_lease_has_run_out():
    assert claim("tidy", day=DAY, owner="a:1", now=at(4), lease=LEASE)
    assert not claim("tidy", day=DAY, owner="b:2", now=at(4, 9), lease=LEASE)
    assert claim("tidy", day=DAY, owner="b:2", now=at(4, 11), lease=LEASE)
    assert not finish("tidy", day=DAY, owner="a:1", now=at(4, 12))  # the first owner came back too late
    assert finish("tidy", day=DAY, owner="b:2", now=at(4, 12))
    assert not claim("tidy", day=DAY, owner="c:3", now=at(23), lease=LEASE)


def test_a_renewed_lease_is_not_taken_over():
    claim("tidy", day=DAY, owner="a:1", now=at(4), lease=LEASE)
    assert renew("tidy", day=DAY, owner="a:1", until=at(5))
    assert not renew("tidy", day=DAY, owner="b:2", until=at(6))
    assert not claim("tidy", day=DAY, owner="b:2", now=at(4, 30), lease=LEASE)


def test_a_failing_job_is_tried_again_but_not_for_ever():
    for number in range(MOST_ATTEMPTS):
        now = at(4, number + 1)
        assert claim("tidy", day=DAY, owner="a:1", now=now, lease=LEASE)
        fail("tidy", day=DAY, owner="a:1", now=now, trouble="no room")
    assert not claim("tidy", day=DAY, owner="a:1", now=at(5), lease=LEASE)
    assert JobClaim.objects.get().trouble == "no room"


@pytest.mark.django_db(transaction=True)
def test_of_many_at_once_exactly_one_gets_the_job(deep_count: Callable[[int, int], int]):
    together = threading.Barrier(6)

    def ask(number: int, day: dt.date) -> bool:
        try:
            together.wait()
            return claim("tidy", day=day, owner=f"m:{number}", now=at(4), lease=LEASE)
        finally:
            connections.close_all()

    with ThreadPoolExecutor(6) as pool:
        for number in range(deep_count(4, 60)):
            day = DAY + dt.timedelta(days=number)
            assert sum(pool.map(lambda n, day=day: ask(n, day), range(6))) == 1


def counted(name: str, hour: int, done: list[dt.date]) -> DailyJob:
    return DailyJob(name, dt.time(hour), done.append)


def test_jobs_run_from_their_time_on_and_once():
    early: list[dt.date] = []
    late: list[dt.date] = []
    jobs = [counted("early", 3, early), counted("late", 18, late)]
    assert run_due("a:1", now=at(2), jobs=jobs) == []
    assert run_due("a:1", now=at(9), jobs=jobs) == ["early"]  # missed at three, made up for at nine
    assert run_due("b:2", now=at(19), jobs=jobs) == ["late"]
    assert run_due("b:2", now=at(23), jobs=jobs) == []
    assert run_due("a:1", now=at(4, day=DAY + dt.timedelta(days=1)), jobs=jobs) == ["early"]
    assert early == [DAY, DAY + dt.timedelta(days=1)]
    assert late == [DAY]


def test_a_clock_set_back_does_no_job_twice():
    done: list[dt.date] = []
    jobs = [counted("early", 3, done)]
    run_due("a:1", now=at(5), jobs=jobs)
    run_due("a:1", now=at(3, 30), jobs=jobs)
    run_due("a:1", now=at(5, day=DAY - dt.timedelta(days=1)), jobs=jobs)
    run_due("a:1", now=at(6), jobs=jobs)
    assert done == [DAY, DAY - dt.timedelta(days=1)]


def test_one_failing_job_does_not_keep_the_others_from_running(caplog: pytest.LogCaptureFixture):
    done: list[dt.date] = []

    def fall(day: dt.date) -> None:
        raise OSError("the disk is full")

    jobs = [DailyJob("falls", dt.time(3), fall), counted("runs", 3, done)]
    assert run_due("a:1", now=at(4), jobs=jobs) == ["runs"]
    assert done == [DAY]
    found = JobClaim.objects.get(job="falls")
    assert "the disk is full" in found.trouble
    assert found.done_at is None
    assert "daily job falls failed" in caplog.text


@pytest.mark.django_db(transaction=True)
def test_the_house_jobs_run(tmp_path, settings):
    settings.DATA = tmp_path
    settings.MEDIA_ROOT = tmp_path / "uploads"
    make_property("HOME")
    assert run_due("a:1", now=at(12)) == [job.name for job in JOBS]
    assert [path.name for path in snapshots.kept()] == ["daily-2026-11-25.zip"]


def test_jobs_have_names_of_their_own():
    names = [job.name for job in daily.JOBS]
    assert len(set(names)) == len(names)


@pytest.mark.django_db(transaction=True)
def test_queued_tasks_are_done_and_failures_kept(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(daily, "JOBS", [])
    ground = make_property("HOME")
    renamed, fallen = rename.enqueue(ground.pk, "Renamed"), fall_over.enqueue()
    call_command("jobs", once=True)
    ground.refresh_from_db()
    assert ground.name == "Renamed"
    assert DBTaskResult.objects.get(pk=renamed.id).return_value == 1
    assert "the task fell over" in DBTaskResult.objects.get(pk=fallen.id).traceback


def test_a_task_whose_worker_died_is_ready_again():
    dead = subprocess.Popen([sys.executable, "-c", ""])
    dead.wait()
    machine = owner_name().rpartition(":")[0]
    results = {}
    for worker in (f"{machine}:{dead.pid}", owner_name(), f"elsewhere:{dead.pid}"):
        result = rename.enqueue(1, "x")
        DBTaskResult.objects.filter(pk=result.id).update(status="RUNNING", worker_ids=[worker])
        results[worker] = result.id
    assert give_back_orphaned_tasks() == 1
    stands = {worker: DBTaskResult.objects.get(pk=pk).status for worker, pk in results.items()}
    assert list(stands.values()) == ["READY", "RUNNING", "RUNNING"]
