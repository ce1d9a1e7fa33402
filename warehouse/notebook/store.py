"""The notebook opened for writing: adding, correcting and withdrawing entries, and how they stand.

SQLite in write-ahead mode by default, any SQLAlchemy URL by settings. One call is one transaction: after a crash an
entry is there whole or not at all. Not here: what each kind of entry must hold (actions.py), the night's reading
(reading.py).
"""

from __future__ import annotations

import time
import uuid
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import polars as pl
from sqlalchemy import Connection, Engine, create_engine, event, func, inspect, select, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import IntegrityError, OperationalError

from warehouse.notebook.reading import all_entries, standing
from warehouse.notebook.tables import METADATA, SCHEMA_VERSION, TABLES, VERSION

BUSY_SECONDS = 15
OPENING_TRIES = 50


class NotebookRefused(ValueError):
    """An entry that cannot be taken; the message is one sentence that says why and what to do."""


@dataclass(frozen=True)
class Store:
    """An opened notebook; safe to share between threads."""

    engine: Engine

    def close(self) -> None:
        """Let go of the database."""
        self.engine.dispose()


def open_store(url: str) -> Store:
    """Open a notebook, making it or bringing it up to date where needed.

    Raises
    ------
    NotebookRefused
        It was written by a newer version of this program.
    """
    parsed = make_url(url)
    if parsed.get_backend_name() == "sqlite":
        if parsed.database:
            Path(parsed.database).parent.mkdir(parents=True, exist_ok=True)
        engine = create_engine(url, connect_args={"timeout": BUSY_SECONDS, "check_same_thread": False})
        event.listen(engine, "connect", _prepare_sqlite)
        event.listen(engine, "begin", _begin_immediate)
    else:
        engine = create_engine(url, pool_pre_ping=True)
    for left in reversed(range(OPENING_TRIES)):
        try:
            with engine.begin() as connection:
                _upgrade(connection)
            break
        except OperationalError as error:
            # Turning on write-ahead mode does not wait for another process that does the same.
            if not left or "locked" not in str(error):
                raise
            time.sleep(0.1)
    return Store(engine)


def _prepare_sqlite(connection: Any, _record: Any) -> None:
    """Write-ahead log, every commit on disk, deleted bytes overwritten; transactions are ours to begin."""
    connection.isolation_level = None
    for setting in ("journal_mode = wal", "synchronous = full", "secure_delete = on"):
        connection.execute(f"pragma {setting}")


def _begin_immediate(connection: Connection) -> None:
    """Take the write lock first, so that a read before a write cannot go stale; who only reads takes none."""
    reading = connection.get_execution_options().get("reading", False)
    connection.exec_driver_sql("begin" if reading else "begin immediate")


def _upgrade(connection: Connection) -> None:
    """Create what is missing: tables, columns of older notebooks, and the guard against changes in place."""
    METADATA.create_all(connection)
    version = connection.scalar(select(func.max(SCHEMA_VERSION.c.version)))
    if version is not None and version > VERSION:
        raise NotebookRefused(f"The notebook is of version {version}, newer than this program; update the program.")
    inspector = inspect(connection)
    for table in TABLES.values():
        there = {column["name"] for column in inspector.get_columns(table.name)}
        for column in table.columns:
            if column.name not in there:
                kind = column.type.compile(connection.dialect)
                connection.execute(text(f'alter table "{table.name}" add column "{column.name}" {kind}'))
        if connection.dialect.name == "sqlite":
            for change in ("update", "delete"):
                connection.execute(text(
                    f"create trigger if not exists {table.name}_no_{change} before {change} on {table.name} "
                    "begin select raise(abort, 'entries are never changed: correct or withdraw'); end"
                ))  # fmt: skip
    if version != VERSION:
        connection.execute(SCHEMA_VERSION.insert().values(version=VERSION))


def enter(store: Store, table: str, by: str, values: dict[str, Any], entry_id: str | None = None) -> str:
    """Add a first entry and return its id.

    Parameters
    ----------
    by
        Who enters it: a role, or a name where one is known.
    entry_id
        Given by a device that may send the same entry twice; the second time changes nothing.
    """
    entry_id = str(uuid.UUID(entry_id)) if entry_id else str(uuid.uuid4())
    row = _row(entry_id, entry_id, None, by, values)
    try:
        with store.engine.begin() as connection:
            connection.execute(TABLES[table].insert().values(row))
    except IntegrityError:
        with store.engine.begin() as connection:
            known = connection.scalar(select(TABLES[table].c.number).where(TABLES[table].c.entry_id == entry_id))
        if known is None:
            raise
    return entry_id


def correct(store: Store, table: str, entry_id: str, by: str, /, **changes: Any) -> str:
    """Add an entry that takes the place of another, with some values changed; return its id.

    The changes are made to the entry as it stands now, so that two people's corrections of different values both hold.

    Raises
    ------
    NotebookRefused
        No such entry, or no such column.
    """
    unknown = set(changes) - {column.name for column in _own_columns(table)}
    if unknown:
        raise NotebookRefused(f"There is no {', '.join(sorted(unknown))} in {table}; correct one of its own columns.")
    return _follow(store, table, entry_id, by, changes, withdrawn=False)


def withdraw(store: Store, table: str, entry_id: str, by: str) -> str:
    """Add an entry that takes another back; return its id. A later correction makes it stand again.

    Raises
    ------
    NotebookRefused
        No such entry.
    """
    return _follow(store, table, entry_id, by, {}, withdrawn=True)


def fill(store: Store, table: str, entry_id: str, by: str, column: str, value: Any) -> str:
    """Add an entry that gives a value still missing; return its id, or that of the entry that has one already.

    Looked up and written in one step: of two tablets that end one drill at once, the first one's moment stands.
    """
    return _follow(store, table, entry_id, by, {column: value}, withdrawn=False, only_missing=column)


def _follow(
    store: Store, table: str, entry_id: str, by: str, changes: dict[str, Any], *, withdrawn: bool,
    only_missing: str = "",
) -> str:  # fmt: skip
    entries = TABLES[table]
    with store.engine.begin() as connection:
        named = select(entries.c.first_entry_id).where(entries.c.entry_id == entry_id)
        first = connection.scalar(named)
        if first is None:
            raise NotebookRefused(f"There is no entry {entry_id} in {table}; look it up again.")
        # The first entry is the lock of its corrections, where the database locks rows.
        connection.execute(select(entries.c.number).where(entries.c.entry_id == first).with_for_update())
        chain = select(entries).where(entries.c.first_entry_id == first).order_by(entries.c.number.desc()).limit(1)
        last = connection.execute(chain).mappings().one()
        if only_missing and last[only_missing] is not None and not last["withdrawn"]:
            return str(last["entry_id"])
        values = {column.name: last[column.name] for column in _own_columns(table)} | changes
        row = _row(str(uuid.uuid4()), first, last["entry_id"], by, values) | {"withdrawn": withdrawn}
        connection.execute(entries.insert().values(row))
    return row["entry_id"]


def _row(entry_id: str, first: str, corrects: str | None, by: str, values: dict[str, Any]) -> dict[str, Any]:
    if not by.strip():
        raise NotebookRefused("Nobody is named as entering this; give a role or a name.")
    now = datetime.now(UTC).replace(tzinfo=None)
    return values | {
        "entry_id": entry_id, "first_entry_id": first, "corrects": corrects, "withdrawn": False, "entered_at": now,
        "entered_by": by.strip(),
    }  # fmt: skip


def new_row(by: str, values: dict[str, Any], entry_id: str | None = None) -> dict[str, Any]:
    """Return a first entry's row, its id made now if not given, for entries written together in one transaction."""
    made = entry_id or str(uuid.uuid4())
    return _row(made, made, None, by, values)


def _own_columns(table: str) -> list[Any]:
    """Return the columns that say what happened, not who entered it."""
    return list(TABLES[table].columns)[7:]


def current(store: Store, table: str) -> pl.DataFrame:
    """Return the entries of a table as they stand after corrections, withdrawn ones left out."""
    with store.engine.connect().execution_options(reading=True) as connection:
        return standing(connection, TABLES[table])


def history(store: Store, table: str) -> pl.DataFrame:
    """Return every entry of a table in the order of entry, those corrected or withdrawn too."""
    with store.engine.connect().execution_options(reading=True) as connection:
        return all_entries(connection, TABLES[table])
