"""No process outlives the one that started it, even if that one was killed without a word."""

from __future__ import annotations

import os
import signal
import threading
import time

STARTED_BY = "SWEETGROUND_STARTED_BY"
LOOK_EVERY_S = 0.3


def end_with(parent: int) -> None:
    """Ends this process as soon as `parent` is no longer its parent. Open transactions are rolled back by that."""

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(LOOK_EVERY_S)
        os._exit(0)

    threading.Thread(target=watch, name="end-with-parent", daemon=True).start()


def end_with_starter() -> None:
    """`end_with` the process named in the environment by whoever started this one; nothing if none is named.

    Until its server installs its own handlers, the process also ends when asked to: a forked worker would
    otherwise go by its parent's handlers, which only note that they were called.
    """
    parent = os.environ.get(STARTED_BY, "")
    if not parent.isdecimal():
        return
    end_with(int(parent))
    if threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
