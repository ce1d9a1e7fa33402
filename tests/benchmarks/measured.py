"""One command as a fresh process: wall, processor seconds, peak memory. Not here: which commands are compared."""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

KIBIBYTE = 1024

BARE_LOAD = """
import sys, duckdb
database, *files = sys.argv[1:]
with duckdb.connect(database) as connection:
    connection.execute("create table shot as select * from read_csv($1)", [files])
"""
"""The least that a load of these files can be: one statement, types guessed, nothing checked, nothing derived."""


@dataclass(frozen=True)
class Measured:
    """What one process took, its children among it.

    Attributes
    ----------
    wall, processor
        Seconds from start to end; user and system seconds.
    peak_bytes
        Largest resident memory.
    code, said
        Exit code, and what it wrote.
    """

    wall: float
    processor: float
    peak_bytes: int
    code: int
    said: str


def run(command: Sequence[str], said: Path, *, environment: dict[str, str] | None = None) -> Measured:
    """Run a command to its end and measure it.

    Parameters
    ----------
    command
        Program and arguments.
    said
        File its output goes to.
    environment
        Added to this process's own.
    """
    with said.open("w+b") as output:
        begun = time.perf_counter()
        process = subprocess.Popen(
            command, stdout=output, stderr=subprocess.STDOUT, env={**os.environ, **(environment or {})}
        )
        _, status, usage = os.wait4(process.pid, 0)
        wall = time.perf_counter() - begun
        process.returncode = os.waitstatus_to_exitcode(status)
        output.seek(0)
        text = output.read().decode(errors="replace")
    return Measured(wall, usage.ru_utime + usage.ru_stime, usage.ru_maxrss * KIBIBYTE, process.returncode, text.strip())


def bare_load(files: Sequence[Path], database: Path) -> Measured:
    """Load these files by one `read_csv` into a new database file, as a fresh process."""
    database.unlink(missing_ok=True)
    return run([sys.executable, "-c", BARE_LOAD, str(database), *map(str, files)], database.with_suffix(".out"))


def middle(taken: Sequence[Measured]) -> tuple[float, float]:
    """Return the median wall and processor seconds of several runs."""
    return statistics.median(one.wall for one in taken), statistics.median(one.processor for one in taken)
