"""The task queue's worker, and giving back what a dead worker had begun."""

from __future__ import annotations

import os
import socket

from django_tasks_db.management.commands.db_worker import Worker
from django_tasks_db.models import DBTaskResult

LOOK_EVERY_S = 1.0


def owner_name() -> str:
    """Machine and process: who claims what."""
    return f"{socket.gethostname()[:50]}:{os.getpid()}"


def make_worker(*, batch: bool = False) -> Worker:
    """A worker for every queue; with `batch` it ends when there is nothing left to do."""
    return Worker(
        queue_names=["*"],
        excluded_queue_names=[],
        interval=LOOK_EVERY_S,
        batch=batch,
        backend_name="default",
        startup_delay=False,
        max_tasks=None,
        worker_id=owner_name(),
    )


def _is_alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


def give_back_orphaned_tasks() -> int:
    """Makes tasks ready again whose worker on this machine has died; gives their number."""
    here = socket.gethostname()[:50]
    count = 0
    for task in DBTaskResult.objects.filter(status="RUNNING"):
        machine, _, pid = (task.worker_ids or [""])[-1].rpartition(":")
        dead = machine == here and pid.isdecimal() and int(pid) != os.getpid() and not _is_alive(int(pid))
        if dead:
            count += DBTaskResult.objects.filter(pk=task.pk, status="RUNNING").update(
                status="READY", started_at=None
            )
    return count
