"""What runs did, one line of JSON an event, in the home's own log and, if asked, on standard output.

Lines hold ids, never names: what is said in words is looked through for the names of students and coaches first. What
becomes of the log never stops a night. Not here: which events of Dagster's are told (night_events.py).
"""

from __future__ import annotations

import fcntl
import functools
import json
import logging
import os
import sys
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from enum import StrEnum
from importlib.metadata import version
from logging.handlers import RotatingFileHandler
from pathlib import Path
from typing import Any

from warehouse.home import Home
from warehouse.privacy import messages

LOGGER = logging.getLogger("academy.night")
LARGEST, KEPT = 2_000_000, 4
"""Bytes of one log file, and how many older ones are kept beside it: 10 MB together at most."""
_AT_WORK: list[str] = []
"""Runs that this process tells of, the innermost last."""


class LogForm(StrEnum):
    """What `academy nightly` writes to standard output."""

    TEXT = "text"
    JSON = "json"


class JsonLines(logging.Formatter):
    """An event as one line of JSON; its words without names."""

    def __init__(self, home: Home | None = None) -> None:
        super().__init__()
        self._home = home

    def format(self, record: logging.LogRecord) -> str:
        """Return the line."""
        said = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "event": record.getMessage(),
            **getattr(record, "fields", {}),
        }
        if self._home is not None:
            said = messages.shown(self._home, json.loads(json.dumps(said, default=str)))
        return json.dumps(said, ensure_ascii=False)


class SharedFile(RotatingFileHandler):
    """A bounded file that several processes may write: each line under a lock, whoever turned the file over last."""

    def emit(self, record: logging.LogRecord) -> None:
        """Write a line."""
        try:
            with Path(self.baseFilename).with_suffix(".lock").open("w") as lock:
                fcntl.flock(lock, fcntl.LOCK_EX)
                if self.stream and self._turned_over():
                    self.stream.close()
                    self.stream = self._open()
                super().emit(record)
        except OSError:
            self.handleError(record)

    def _turned_over(self) -> bool:
        try:
            return os.fstat(self.stream.fileno()).st_ino != os.stat(self.baseFilename).st_ino
        except FileNotFoundError:
            return True

    def handleError(self, record: logging.LogRecord) -> None:  # noqa: N802
        """Say nothing: a disk that is full stops the log, not the night, and the night tells of it."""


def place(home: Home) -> Path:
    """Return the log that is written now; older ones have .1 to .4 after its name."""
    return home.private / "log" / "academy.jsonl"


def say(event: str, *, level: int = logging.INFO, **fields: object) -> None:
    """Tell an event of the run at work; nothing where no log is open."""
    if LOGGER.handlers:
        given = {"run": _AT_WORK[-1] if _AT_WORK else None, **fields}
        LOGGER.log(level, event, extra={"fields": {key: held for key, held in given.items() if held is not None}})


@contextmanager
def kept(home: Home, run: str = "") -> Iterator[None]:
    """Write what is said meanwhile to the home's log."""
    with suppress(OSError):
        place(home).parent.mkdir(parents=True, exist_ok=True)
    handler = SharedFile(place(home), maxBytes=LARGEST, backupCount=KEPT, encoding="utf-8", delay=True)
    _AT_WORK.append(run or uuid.uuid4().hex[:12])
    try:
        with _attached(handler, home):
            yield
    finally:
        _AT_WORK.pop()


@contextmanager
def on_standard_output(home: Home) -> Iterator[None]:
    """Write what is said meanwhile to standard output too."""
    with _attached(logging.StreamHandler(sys.stdout), home):
        yield


def at_work() -> bool:
    """Return whether this process keeps a log now."""
    return bool(_AT_WORK)


@contextmanager
def _attached(handler: logging.Handler, home: Home) -> Iterator[None]:
    handler.setFormatter(JsonLines(home))
    LOGGER.propagate = False
    LOGGER.setLevel(logging.INFO)
    LOGGER.addHandler(handler)
    try:
        yield
    finally:
        LOGGER.removeHandler(handler)
        with suppress(OSError):
            handler.close()


def logged(run: Callable[..., Any]) -> Callable[..., Any]:
    """Tell of a run's beginning and of what became of it; `run` takes a home first and returns a `Night`."""

    @functools.wraps(run)
    def told(home: Home, *args: Any, **options: Any) -> Any:
        asked = {key: options.get(key) for key in ("night", "rebuild", "by_day") if options.get(key)}
        began = time.monotonic()
        with kept(home):
            say("run begun", home=home.path.name, program=version("drill-evidence"), process=os.getpid(), **asked)
            try:
                done = run(home, *args, **options)
            except BaseException as fault:
                why, seconds = f"{type(fault).__name__}: {fault}", round(time.monotonic() - began, 3)
                say("run ended", level=logging.ERROR, outcome="unexpected error", why=why, seconds=seconds)
                raise
            word = done.outcome.name.lower().replace("_", " ")
            level = logging.ERROR if "not" in word else logging.WARNING if done.warnings else logging.INFO
            say("run ended", level=level, outcome=word, why=done.message, through_night=done.through,
                warnings=done.warnings, seconds=round(time.monotonic() - began, 3))  # fmt: skip
            return done

    return told
