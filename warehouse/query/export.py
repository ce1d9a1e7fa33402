"""A query's rows written whole as CSV, JSON or Parquet: through a file beside, never all in memory at once.

The rows are complete, and known to be, before the first of them is written: a query that fails half way writes nothing.
Not here: what may be asked and with what limits (guard.py, worker.py).
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import IO, Any

import polars as pl
import pyarrow as pa
import pyarrow.parquet as pq

from warehouse.query import guard
from warehouse.settings.limits import Exports

TOGETHER = 100_000
"""Rows that are written at once."""


class Form(StrEnum):
    """What the rows are written as."""

    CSV = "csv"
    JSON = "json"
    PARQUET = "parquet"


@dataclass(frozen=True)
class Written:
    """What was written: how many rows, and the limit that cut them: "rows", "bytes" or ""."""

    rows: int
    limit: str

    def in_words(self, limits: Exports) -> str | None:
        """Return what has to be said of a cut; None where all rows were written."""
        if not self.limit:
            return None
        most = {"rows": f"{limits.rows:,} rows", "bytes": f"{limits.megabytes:,} MB"}[self.limit]
        return (
            f"cut: {self.rows:,} rows were written and there are more; the limit is {most}: narrow the query, or raise "
            f"exports.{'rows' if self.limit == 'rows' else 'megabytes'} in academy.toml"
        )


def export(database: Path, sql: str, to: IO[bytes], form: Form, limits: Exports) -> Written:
    """Run one select on a published file and write its rows.

    Parameters
    ----------
    database
        The published file.
    to
        Where the rows are written, in binary.
    limits
        How many rows and bytes, how long, and with how much memory.

    Raises
    ------
    QueryRefused
        As `guard.run`; nothing is written then.
    """
    request = guard.request_of(
        database, sql, "export", limits.rows, limits.megabytes * 1_000_000, limits.seconds, limits.memory_megabytes
    )
    with tempfile.TemporaryFile(prefix="rows-") as spool:
        guard.give(request, spool)
        report = _report(spool)
        if "refused" in report:
            raise guard.QueryRefused(report["refused"])
        names = guard.unique(report["names"])
        whole = [name for name, kind in zip(names, report["kinds"], strict=True) if kind in guard.WHOLE]
        as_whole = _types_of(spool, report["at"], names, whole)
        frames = (_typed(frame, as_whole) for frame in _frames(spool, report["at"], names))
        {Form.CSV: _write_csv, Form.JSON: _write_json, Form.PARQUET: _write_parquet}[form](frames, to)
    return Written(report["rows"], report["limit"])


def _report(spool: IO[bytes]) -> dict[str, Any]:
    end = spool.tell()
    spool.seek(end - 8)
    length = int.from_bytes(spool.read(8), "big")
    spool.seek(end - 8 - length)
    return json.loads(spool.read(length))


def _frames(spool: IO[bytes], at: int, names: list[str]) -> Iterator[pl.DataFrame]:
    """Yield the rows, many at once; one frame without rows where there is none."""
    spool.seek(at)
    with pa.ipc.open_stream(spool) as reader:
        held, rows, empty = list[pa.RecordBatch](), 0, reader.schema.empty_table()
        for batch in reader:
            held.append(batch)
            rows += batch.num_rows
            if rows >= TOGETHER:
                yield _named(pa.Table.from_batches(held), names)
                held, rows, empty = [], 0, None
        if held or empty is not None:
            yield _named(pa.Table.from_batches(held) if held else empty, names)


def _named(table: pa.Table, names: list[str]) -> pl.DataFrame:
    frame = pl.from_arrow(table)
    assert isinstance(frame, pl.DataFrame)
    frame = frame.rename(dict(zip(frame.columns, names, strict=True)))
    return frame.with_columns(pl.col(pl.Categorical, pl.Enum).cast(pl.String))


def _types_of(spool: IO[bytes], at: int, names: list[str], whole: list[str]) -> dict[str, Any]:
    """Return as what whole numbers that travelled as text are written: one type for all rows that fits."""
    found: dict[str, Any] = dict.fromkeys(whole, pl.Int64)
    if not whole:
        return found
    for frame in _frames(spool, at, names):
        for name in whole:
            while found[name] is not pl.String:
                if frame[name].cast(found[name], strict=False).null_count() == frame[name].null_count():
                    break
                found[name] = pl.Int128 if found[name] is pl.Int64 else pl.String
    return found


def _typed(frame: pl.DataFrame, as_whole: dict[str, Any]) -> pl.DataFrame:
    return frame.with_columns(pl.col(name).cast(kind) for name, kind in as_whole.items())


def _write_csv(frames: Iterator[pl.DataFrame], to: IO[bytes]) -> None:
    for number, frame in enumerate(frames):
        to.write(guard.to_csv_safe(frame, header=number == 0))


def _write_json(frames: Iterator[pl.DataFrame], to: IO[bytes]) -> None:
    to.write(b"[")
    between = b""
    for frame in frames:
        rows = guard.to_json(frame).strip()[1:-1]
        if rows:
            to.write(between + rows)
            between = b","
    to.write(b"]\n")


def _write_parquet(frames: Iterator[pl.DataFrame], to: IO[bytes]) -> None:
    """Write a Parquet file; Int128, which Parquet has not, as text."""
    writer = None
    for frame in frames:
        table = frame.with_columns(pl.col(pl.Int128).cast(pl.String)).to_arrow()
        writer = writer or pq.ParquetWriter(to, table.schema, compression="zstd")
        writer.write_table(table)
    if writer is not None:
        writer.close()
