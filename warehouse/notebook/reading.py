"""The notebook read: how entries stand, and the night's reading, which never writes and never makes a file."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote

import polars as pl
from sqlalchemy import Connection, Engine, NullPool, Table, create_engine, func, inspect, select
from sqlalchemy.engine import make_url
from sqlalchemy.exc import NoSuchTableError

from warehouse.notebook.tables import TABLES, frame_schema

BUSY_SECONDS = 15


def read_entries(url: str) -> dict[str, pl.DataFrame]:
    """Return every table's entries as they stand, all of one moment.

    Parameters
    ----------
    url
        SQLAlchemy URL. A SQLite file that is not there gives empty frames and is not made; tables and columns that an
        older notebook lacks come empty.
    """
    with _opened(url) as connection:
        if connection is None:
            return {name: pl.DataFrame(schema=_shown(table)) for name, table in TABLES.items()}
        return {name: standing(connection, table) for name, table in TABLES.items()}


def read_history(url: str, name: str) -> pl.DataFrame:
    """Return every entry of a table in the order of entry, corrected and taken back ones too; empty where none is."""
    with _opened(url) as connection:
        if connection is None:
            return pl.DataFrame(schema=frame_schema(TABLES[name]))
        return all_entries(connection, TABLES[name])


@contextmanager
def _opened(url: str) -> Iterator[Connection | None]:
    """Give a connection that only reads, at one moment; None where a SQLite file is not there."""
    parsed = make_url(url)
    if parsed.get_backend_name() == "sqlite":
        path = Path(parsed.database or "")
        if not parsed.database or not path.exists():
            yield None
            return
        engine = _read_only_sqlite(path)
    else:
        engine = create_engine(url, poolclass=NullPool, isolation_level="REPEATABLE READ")
    with engine.connect() as connection:
        if connection.dialect.name == "postgresql":
            connection = connection.execution_options(postgresql_readonly=True)  # noqa: PLW2901
        yield connection


def _read_only_sqlite(path: Path) -> Engine:
    """Return an engine that cannot write; in a folder that cannot be written either, without the log's side files."""
    place = f"file:{quote(str(path.absolute()))}?mode=ro"
    waiting = path.with_name(path.name + "-wal")

    def connect() -> sqlite3.Connection:
        try:
            connection = sqlite3.connect(place, uri=True, timeout=BUSY_SECONDS, isolation_level=None)
            connection.execute("begin")  # one moment for all tables
            connection.execute("select count(*) from sqlite_master").fetchone()
        except sqlite3.OperationalError:
            if waiting.exists() and waiting.stat().st_size:
                raise
            connection = sqlite3.connect(place + "&immutable=1", uri=True, isolation_level=None)
        return connection

    return create_engine("sqlite://", creator=connect, poolclass=NullPool)


def standing(connection: Connection, table: Table) -> pl.DataFrame:
    """Return the last entry of each chain of corrections, unless it is a withdrawal."""
    last = select(func.max(table.c.number)).group_by(table.c.first_entry_id)
    frame = _frame(connection, table, table.c.number.in_(last))
    return frame.filter(~pl.col("withdrawn")).select(*_shown(table))


def all_entries(connection: Connection, table: Table) -> pl.DataFrame:
    """Return every entry in the order of entry."""
    return _frame(connection, table, None)


def _shown(table: Table) -> dict[str, Any]:
    """Return the columns of entries as they stand."""
    return {name: kind for name, kind in frame_schema(table).items() if name not in ("number", "withdrawn")}


def _frame(connection: Connection, table: Table, which: Any) -> pl.DataFrame:
    schema = frame_schema(table)
    try:
        there = {column["name"] for column in inspect(connection).get_columns(table.name)}
    except NoSuchTableError:
        return pl.DataFrame(schema=schema)
    query = select(*(column for column in table.columns if column.name in there)).order_by(table.c.number)
    rows = connection.execute(query if which is None else query.where(which)).mappings().all()
    return pl.DataFrame([{name: row.get(name) for name in schema} for row in rows], schema=schema)
