"""Takes a person's entries out of the notebook, the one exception to "entries are never changed", and copies them."""

from __future__ import annotations

from collections.abc import Iterable

import polars as pl
from sqlalchemy import Column, Table, Text, create_engine, false, inspect, or_, select, text
from sqlalchemy.engine import Connection, make_url
from sqlalchemy.sql import ColumnElement

from warehouse.erasure.logs import GONE, Mentioned, blanked, pattern
from warehouse.erasure.postgres import Kept
from warehouse.notebook.reading import read_entries
from warehouse.notebook.store import BUSY_SECONDS, history, new_row, open_store
from warehouse.notebook.tables import TABLES, USAGE
from warehouse.notebook.trial_tables import TRIAL_LOT, TRIAL_LOT_GONE


def forget_entries(url: str, student_id: str, lessons: set[str], names: Iterable[str] = ()) -> int:
    """Delete a student's entries with all their corrections, and write a SQLite file anew; return how many.

    A use whose query or download names the student is deleted too; in words of other people's entries id and names are
    blanked.
    """
    if not _there(url):
        return 0
    store = open_store(url)
    taken, named = 0, pattern((student_id, *names))
    with store.engine.begin() as connection:
        for table in TABLES.values():
            if connection.dialect.name == "sqlite":
                for change in ("delete", "update"):
                    connection.execute(text(f"drop trigger if exists {table.name}_no_{change}"))
            chains = sorted(_chains(connection, table, student_id, lessons, named))
            for start in range(0, len(chains), 500):
                part = table.c.first_entry_id.in_(chains[start : start + 500])
                if table is TRIAL_LOT:
                    _keep_place(connection, part)
                taken += connection.execute(table.delete().where(part)).rowcount
            _blank_words(connection, table, named)
    store.close()
    open_store(url).close()  # puts the guard against deletion back
    if make_url(url).get_backend_name() == "sqlite":
        engine = create_engine(url, connect_args={"timeout": BUSY_SECONDS}, isolation_level="AUTOCOMMIT")
        with engine.connect() as connection:
            connection.exec_driver_sql("vacuum")
            connection.exec_driver_sql("pragma wal_checkpoint(truncate)")
        engine.dispose()
    return taken


def on_servers(url: str) -> list[Kept]:
    """Return the notebook's tables where a PostgreSQL server keeps them, since it keeps deleted rows too."""
    given = make_url(url)
    if given.get_backend_name() != "postgresql":
        return []
    store = open_store(url)
    schema = inspect(store.engine).default_schema_name or "public"
    store.close()
    return [Kept(given, schema, tuple(TABLES))]


def entries_of(url: str, student_id: str, lessons: set[str], names: Iterable[str] = ()) -> dict[str, pl.DataFrame]:
    """Return a student's entries by table, those since corrected or withdrawn too, and whose words mention them."""
    if not _there(url):
        return {}
    store = open_store(url)
    held, named = {}, pattern((student_id, *names))
    for name, table in TABLES.items():
        with store.engine.connect().execution_options(reading=True) as connection:
            chains = _chains(connection, table, student_id, lessons, named)
            for column in _words(table):
                said = connection.execute(select(table.c.first_entry_id, column).where(column.is_not(None)))
                chains |= {entry for entry, words in said if named.search(words)}
        rows = history(store, name).filter(pl.col("first_entry_id").is_in(chains))
        if rows.height:
            held[name] = rows
    store.close()
    return held


def _chains(connection: Connection, table: Table, student_id: str, lessons: set[str], named: Mentioned) -> set[str]:
    """Return the first entries of what is the student's: theirs by id, and uses whose query or download names them."""
    theirs = select(table.c.first_entry_id).where(_names(table, student_id, lessons)).distinct()
    chains = set(connection.scalars(theirs).all())
    if table is USAGE:
        used = connection.execute(select(table.c.first_entry_id, table.c.detail)).all()
        chains |= {entry for entry, detail in used if detail and named.search(detail)}
    return chains


def _words(table: Table) -> list[Column]:
    """Return a table's columns of free text."""
    return [column for column in table.c if isinstance(column.type, Text)]


def _keep_place(connection: Connection, part: ColumnElement[bool]) -> None:
    """Keep of lots that are taken out what says nothing of a person: else a trial at work would draw a place twice."""
    kept = [column for column in TRIAL_LOT_GONE.c if column.name in ("trial_id", "stratum", "place", "block", "arm")]
    for row in connection.execute(select(*(TRIAL_LOT.c[column.name] for column in kept)).where(part)).mappings():
        connection.execute(TRIAL_LOT_GONE.insert().values(new_row("academy forget", dict(row))))


def _blank_words(connection: Connection, table: Table, named: Mentioned) -> None:
    """Blank id and names in the free text of what is left; in lines of use a part of a name too, as it was asked by."""
    for column in _words(table):
        for number, words in connection.execute(select(table.c.number, column).where(column.is_not(None))).all():
            left = blanked(named, words)
            left = named.names.mask_parts(left, GONE) if table is USAGE else left
            if left != words:
                connection.execute(table.update().where(table.c.number == number).values({column.name: left}))


def _there(url: str) -> bool:
    """Whether anything was ever entered; a missing notebook is not made."""
    return any(frame.height for frame in read_entries(url).values()) or make_url(url).get_backend_name() != "sqlite"


def _names(table: Table, student_id: str, lessons: set[str]) -> ColumnElement[bool]:
    """Return the condition that an entry names the student or a lesson of theirs."""
    if table is USAGE:
        return table.c.who == student_id
    if "student_id" not in table.c:
        return false()  # a trial's plan and looks are about nobody in particular
    named = table.c.student_id == student_id
    return or_(named, table.c.lesson_id.in_(sorted(lessons))) if "lesson_id" in table.c else named
