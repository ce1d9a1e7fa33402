"""Children that each run one query of a reader, and the one that may wait for the next.

A child takes a tenth of a second or more of a core to load the database; one started ahead has done so when it is
asked. It has read nothing by then, and it still runs one query and ends. Not here: what it is asked (query_guard.py),
nor how it is confined (query_worker.py).
"""

from __future__ import annotations

import atexit
import subprocess
import sys
import tempfile
import threading
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

WORKER = Path(__file__).with_name("worker.py")
# Nothing of the caller's environment: only what keeps the child's own libraries small.
ENVIRONMENT = {"MALLOC_ARENA_MAX": "2", "OPENBLAS_NUM_THREADS": "1", "ARROW_DEFAULT_MEMORY_POOL": "system"}
_waiting: list[Child] = []
_taking = threading.Lock()


@dataclass(frozen=True)
class Child:
    """A process that reads one request and writes one answer, in an empty folder of its own."""

    process: subprocess.Popen[bytes]
    folder: tempfile.TemporaryDirectory[str]

    def end(self) -> None:
        """See it ended, and its folder gone."""
        self.process.kill()
        for pipe in (self.process.stdin, self.process.stdout):
            if pipe is not None:
                with suppress(OSError):  # what is still to be written finds nobody
                    pipe.close()
        self.process.wait()
        self.folder.cleanup()


def start() -> Child:
    """Start a child; it waits for its request."""
    # -I: no folder, user site or environment can put a module of its own in the way.
    command = [sys.executable, "-I", "-B", str(WORKER)]
    folder = tempfile.TemporaryDirectory(prefix="query-", ignore_cleanup_errors=True)
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                               cwd=folder.name, env=ENVIRONMENT)  # fmt: skip
    return Child(process, folder)


def make_ready() -> None:
    """Start the child of the next query ahead, if none waits; it ends with this process."""
    with _taking:
        if not _waiting:
            _waiting.append(start())


def take() -> Child:
    """Return the child that waits, if it still lives, else a new one."""
    with _taking:
        waiting = _waiting.pop() if _waiting else None
    if waiting is None:
        return start()
    if waiting.process.poll() is None:
        return waiting
    waiting.end()
    return start()


@atexit.register
def none_waits() -> None:
    """End the child that waits."""
    with _taking:
        while _waiting:
            _waiting.pop().end()
