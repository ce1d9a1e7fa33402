"""One read-only select by a reader on the published file, in a process of its own with hard limits.

Three walls, each enough for most of what can be tried: the child (query_worker.py) refuses all but one select over
published tables; its database is read-only, cut off from files, network and extensions, its settings locked; and the
operating system limits its memory, files and clock. Here are the outer wall, and results made safe to take away. Not
here: who may ask (the dashboard), nor the connection of pages to the published file (connection.py).
"""

from __future__ import annotations

import json
import os
import selectors
import signal
import subprocess
import threading
import time
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path
from typing import IO, Any

import polars as pl

from warehouse.query import plain_values, worker_process

START_UP = 10.0
WHOLE = ("HUGEINT", "UHUGEINT")
"""Types of whole numbers that travel as text."""
MAX_SQL = 50_000
AT_ONCE = 4
_places = threading.BoundedSemaphore(AT_ONCE)


class QueryRefused(Exception):
    """The query was refused or ended; the message is one sentence that says why and what to do."""


@dataclass(frozen=True)
class QueryResult:
    """Rows of a query.

    Attributes
    ----------
    frame
        The rows kept. Column names are made unique (a second `x` becomes `x_2`). HUGEINT (every sum of whole numbers)
        comes as Int64 where all values fit, else Int128; types a frame has not (INTERVAL, ENUM, UNION, MAP, BIT,
        TIMETZ, a row without names, days outside the years 1 to 9999) as text.
    seconds
        Time of the query itself, s; start of the process not counted.
    truncated
        Whether rows were left out.
    limit
        Which limit was met: "rows", "bytes" or "".
    columns
        Name and type in the database of each column, in order.
    """

    frame: pl.DataFrame
    seconds: float
    truncated: bool
    limit: str = ""
    columns: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class QueryPlan:
    """How the database would run a query or, if analysed, ran it; `seconds` is None where it was not run."""

    plan: str
    seconds: float | None


def run(
    database: Path,
    sql: str,
    *,
    max_rows: int = 10_000,
    max_bytes: int = 50_000_000,
    seconds: float = 20,
    memory_mb: int = 1024,
) -> QueryResult:
    """Run one select on a published file and return at most `max_rows` rows and `max_bytes` bytes of them.

    Parameters
    ----------
    database
        The published file, or the link to it.
    seconds
        Clock limit, s, start of the process not counted.
    memory_mb
        Address space the query may take, MB (10^6 bytes), held by the operating system.

    Raises
    ------
    QueryRefused
        Not exactly one select, a reach past the published tables, an error in it, or a limit met; in one sentence.
    """
    report, rows = _ask(database, sql, "rows", max_rows, max_bytes, seconds, memory_mb)
    frame = pl.read_ipc_stream(rows)
    names = unique(report["names"])
    kinds = dict(zip(names, report["kinds"], strict=True))
    frame = frame.rename(dict(zip(frame.columns, names, strict=True)))
    frame = frame.with_columns(_whole(frame[name]) for name, kind in kinds.items() if kind in WHOLE)
    return QueryResult(frame, report["seconds"], bool(report["limit"]), report["limit"], kinds)


def explain(database: Path, sql: str, *, analyse: bool = True, seconds: float = 20, memory_mb: int = 1024) -> QueryPlan:
    """Return the plan of one select; with `analyse` it is run under the same limits and timed.

    Raises
    ------
    QueryRefused
        As `run`.
    """
    report, _ = _ask(database, sql, "analyse" if analyse else "explain", 0, 0, seconds, memory_mb)
    return QueryPlan(report["plan"], report["seconds"] if analyse else None)


def _ask(
    database: Path, sql: str, mode: str, max_rows: int, max_bytes: int, seconds: float, memory_mb: int
) -> tuple[dict[str, Any], bytes]:
    """Give one request to a child and return its report and rows."""
    request = request_of(database, sql, mode, max_rows, max_bytes, seconds, memory_mb)
    sink = BytesIO()
    give(request, sink)
    output = sink.getvalue()
    length = int.from_bytes(output[:8], "big")
    report = json.loads(output[8 : 8 + length])
    if "refused" in report:
        raise QueryRefused(report["refused"])
    return report, output[8 + length :]


def request_of(
    database: Path, sql: str, mode: str, max_rows: int, max_bytes: int, seconds: float, memory_mb: int
) -> dict[str, Any]:
    """Return a request to a child.

    Raises
    ------
    QueryRefused
        It can be no query, or there is nothing to ask.
    """
    path = Path(database).resolve()
    if not path.is_file():
        raise QueryRefused("Nothing has been published yet; run academy nightly first.")
    if len(sql) > MAX_SQL:
        raise QueryRefused(f"The query has {len(sql):,} characters; {MAX_SQL:,} is the most, so shorten it.")
    if "\0" in sql or any("\ud800" <= letter <= "\udfff" for letter in sql):
        raise QueryRefused("The query holds characters that are not text; type it again.")
    return {
        "database": str(path), "sql": sql, "mode": mode, "max_rows": max_rows, "max_bytes": max_bytes,
        "seconds": seconds, "memory_mb": memory_mb,
    }  # fmt: skip


def give(request: dict[str, Any], sink: IO[bytes]) -> None:
    """Give one request to a child, and all that it answers to `sink`.

    Raises
    ------
    QueryRefused
        It ended without an answer.
    """
    if not _places.acquire(timeout=request["seconds"]):
        raise QueryRefused(f"{AT_ONCE} queries are running already; try again in a moment.")
    try:
        before = sink.tell()
        most = 2 * request["max_bytes"] + 10_000_000
        returncode = _converse(json.dumps(request).encode(), request["seconds"] + START_UP, most, sink)
    finally:
        _places.release()
    if returncode != 0 or sink.tell() < before + 8:
        raise QueryRefused(_ended(returncode, request["seconds"], request["memory_mb"]))


def _converse(request: bytes, seconds: float, most: int, sink: IO[bytes]) -> int | None:
    """Take a child, hand it the request, read its answer, and see it ended.

    Returns its exit code; None where the clock or the size of its answer ended it.
    """
    deadline = time.monotonic() + seconds
    child = worker_process.take()
    process = child.process
    assert process.stdin is not None and process.stdout is not None
    try:
        complete = _exchange(process.stdin, process.stdout, request, deadline, most, sink)
        if complete:
            process.wait(timeout=max(deadline - time.monotonic(), 1.0))
    except subprocess.TimeoutExpired:
        complete = False
    finally:
        child.end()
    return process.returncode if complete else None


def _exchange(
    to: IO[bytes], source: IO[bytes], request: bytes, deadline: float, most: int, sink: IO[bytes]
) -> bool:  # fmt: skip
    """Write the request, then hand on to the end; False where the deadline or `most` bytes came first."""
    try:
        to.write(request)
        to.close()
    except BrokenPipeError:
        return True  # it died at its start: the exit code says how
    size = 0
    with selectors.DefaultSelector() as selector:
        selector.register(source, selectors.EVENT_READ)
        while size <= most:
            if not selector.select(max(deadline - time.monotonic(), 0)):
                return False
            part = os.read(source.fileno(), 1 << 20)
            if not part:
                return True
            sink.write(part)
            size += len(part)
    return False


def _ended(returncode: int | None, seconds: float, memory_mb: int) -> str:
    """Say why a child ended without a report."""
    if returncode is None or -returncode in (signal.SIGALRM, signal.SIGXCPU):
        return f"The query ran longer than {seconds:g} s; narrow it with where, group by or limit."
    return f"The query needed more than {memory_mb} MB or nested too deeply; narrow it with where, group by or limit."


def unique(names: list[str]) -> list[str]:
    """Number the names that come again: x, x_2, x_3."""
    taken: set[str] = set()
    result = []
    for name in names:
        free, number = name, 1
        while free in taken:
            number += 1
            free = f"{name}_{number}"
        taken.add(free)
        result.append(free)
    return result


def _whole(text: pl.Series) -> pl.Series:
    """Return whole numbers that travelled as text: Int64, else Int128, else the text (beyond 127 bits)."""
    for kind in (pl.Int64, pl.Int128):
        number = text.cast(kind, strict=False)
        if number.null_count() == text.null_count():
            return number
    return text


_FORMULA = r"^[\s\x{feff}\x{200b}]*[=+\-@\x{ff1d}\x{ff0b}\x{ff0d}\x{ff20}]|^[\t\r\n]"
_PLAIN_NUMBER = r"^[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?$"


def to_csv_safe(frame: pl.DataFrame, *, header: bool = True) -> bytes:
    """Return UTF-8 CSV that is safe to open in a spreadsheet.

    Text cells and column names that a spreadsheet would read as a formula (first sign after blanks is = + - or @, also
    in their full-width forms, or the cell begins with a tab or line break) get an apostrophe in front, which
    spreadsheets show as text. Numbers stay as they are, also a plain number that stands in a text column. All text is
    quoted, so that a program that splits at semicolons cannot make a new cell begin inside one. Lists and structs are
    written as JSON, bytes as hexadecimal.
    """
    columns = [plain_values.flat(frame[name]) for name in frame.columns]
    flat = pl.DataFrame(columns) if columns else frame
    text = pl.col(pl.String)
    inert = flat.with_columns(
        pl.when(text.str.contains(_FORMULA) & ~text.str.contains(_PLAIN_NUMBER))
        .then(pl.lit("'") + text)
        .otherwise(text)
        .name.keep()
    )
    names = pl.Series(inert.columns, dtype=pl.String)
    dangerous = names.str.contains(_FORMULA).to_list()
    inert.columns = unique([f"'{name}" if bad else name for name, bad in zip(names, dangerous, strict=True)])
    return inert.write_csv(quote_style="non_numeric", include_header=header).encode()


def to_parquet(frame: pl.DataFrame) -> bytes:
    """Return the frame as a Parquet file; Int128, which Parquet has not, as text."""
    sink = BytesIO()
    frame.with_columns(pl.col(pl.Int128).cast(pl.String)).write_parquet(sink)
    return sink.getvalue()


def to_json(frame: pl.DataFrame) -> bytes:
    """Return the frame as a JSON list of rows; times as ISO 8601 text, Int128, infinity and NaN as text."""
    return plain_values.as_json(frame)


def to_table(frame: pl.DataFrame) -> pl.DataFrame:
    """Return the frame as a page's table can show it, whatever its types."""
    return plain_values.shown(frame)
