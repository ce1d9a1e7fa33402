"""A clock over one file: what takes longer than it may is refused, and the night goes on with the next.

Not here: what a file may be by size (byte_scan.py).
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager

import duckdb

from warehouse.landing.lines.byte_scan import RefusedError


def too_slow(seconds: float) -> str:
    """Return what is said of a file that takes too long."""
    return (
        f"takes longer than {seconds:g} seconds to read, which no night's table of shots does: export it again, or "
        "raise limits.file_seconds in academy.toml"
    )


@contextmanager
def within(seconds: float) -> Iterator[None]:
    """Refuse the file that is looked at meanwhile once its time is over; only a process's main thread has the clock.

    Raises
    ------
    RefusedError
        The time is over.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def ring(*_: object) -> None:
        raise RefusedError(too_slow(seconds))

    before = signal.signal(signal.SIGALRM, ring)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


@contextmanager
def interrupting(con: duckdb.DuckDBPyConnection, seconds: float) -> Iterator[None]:
    """Interrupt what the database does meanwhile once the time is over; it raises duckdb.InterruptException then."""
    clock = threading.Timer(seconds, con.interrupt)
    clock.daemon = True
    clock.start()
    try:
        yield
    finally:
        clock.cancel()
