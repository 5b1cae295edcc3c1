"""The web server process: `python -m config.serving.web HOST PORT WORKERS`."""

from __future__ import annotations

import os
import sys

from granian import Granian
from granian.constants import Interfaces
from granian.log import LogLevels

from config.serving.orphans import STARTED_BY, end_with_starter

THREADS = 4


def serve(host: str, port: int, workers: int) -> None:
    """Serves until told to stop; workers that fail are replaced."""
    end_with_starter()
    os.environ[STARTED_BY] = str(os.getpid())  # the workers end with this process
    Granian(
        "config.wsgi:application",
        address=host,
        port=port,
        interface=Interfaces.WSGI,
        workers=workers,
        blocking_threads=THREADS,
        websockets=False,
        respawn_failed_workers=True,
        respawn_interval=0.5,
        workers_kill_timeout=10,
        log_level=LogLevels.warning,
    ).serve()


if __name__ == "__main__":
    serve(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
