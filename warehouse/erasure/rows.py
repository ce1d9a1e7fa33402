"""A person's rows in a database: found, taken out, and the file written anew without them.

Which columns can hold a person is declared (`personal=` in warehouse/schema): ids of theirs find rows, and outside
words that mention them are blanked. A table that no declaration knows (an older file's) is judged by its columns'
names. Not here: which databases there are (erase.py).
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import TypeVar

import duckdb
import polars as pl

from warehouse.erasure.logs import GONE, Mentioned, pattern
from warehouse.schema import entered, raw
from warehouse.schema.declaration import KEY, PERSON, WORDS, Table, quoted
from warehouse.schema.registry import TABLES

STUDENT_IDS = ("student_id", "id", "subject_id")
"""Columns that hold the person's own id; the other PERSON columns hold ids of what was theirs."""
BY_ID_TOO = ("value", "detail", "example", "reason", "warnings", "note", "message", "original_path", "place")
"""Columns of words in which ids are looked for too, declared or an older program's: elsewhere an id may be a number."""
Result = TypeVar("Result")


class StillOpen(RuntimeError):
    """A private database is in use, so it was not changed; the message says what to do."""


@cache
def declared() -> dict[str, Table]:
    """Return every declared table by name."""
    return {table.name: table for table in (*TABLES.values(), *raw.TABLES, *entered.TABLES)}


@cache
def columns_declared(*kinds: str) -> frozenset[str]:
    """Return the names of all columns that are declared to hold these kinds of what is personal."""
    return frozenset(name for table in declared().values() for name in table.columns_about(*kinds))


def owned() -> tuple[str, ...]:
    """Return the columns that hold ids of what was a person's: lessons, sessions, episodes."""
    return tuple(sorted(columns_declared(PERSON) - set(STUDENT_IDS)))


def words_of(table: str, columns: Iterable[str]) -> list[str]:
    """Return a table's columns that can hold words about somebody, ids among them: a name may be typed as one."""
    schema, name = table.replace('"', "").split(".", 1)
    known = declared().get(f"{'raw' if schema == 'main' else schema}.{name}")
    theirs = known.columns_about(WORDS, KEY, PERSON) if known else (*BY_ID_TOO, *columns_declared(KEY, PERSON))
    return [column for column in columns if column in theirs]


@contextmanager
def opened(path: Path, *, read_only: bool) -> Iterator[duckdb.DuckDBPyConnection]:
    try:
        connection = duckdb.connect(str(path), read_only=read_only)
    except duckdb.IOException as error:
        raise StillOpen(f"{path.name} is in use: let the run end, then try again") from error
    try:
        connection.execute("set timezone = 'UTC'")
        yield connection
    finally:
        connection.close()


def rows_held(
    connection: duckdb.DuckDBPyConnection, student_id: str, lessons: set[str], names: Iterable[str] = ()
) -> dict[str, pl.DataFrame]:
    """Return a student's rows in the connection's current database, and those whose outside words mention them.

    Ids found to be theirs are added to `lessons`.
    """
    lessons |= _fill_own_ids(connection, student_id, lessons)
    asked = {table: [where] for table, where in _conditions(connection, student_id)}
    for table, column, texts in _mentioning(connection, pattern((student_id, *names))):
        asked.setdefault(table, []).append(f"{column} in ({', '.join(quoted(text) for text in texts)})")
    found = {
        table: connection.execute(f"select * from {table} where {' or '.join(where)}").pl()
        for table, where in asked.items()
    }
    return {table: rows for table, rows in found.items() if rows.height}


def rewritten(path: Path, change: Callable[[duckdb.DuckDBPyConnection], Result]) -> Result:
    """Put in a database file's place one after a change, which holds nothing of what went; return what it returned.

    A copy is worked on, so that a reader of a published version goes on undisturbed, and a crash leaves the old file.
    """
    log = path.with_name(path.name + ".wal")
    if log.exists():
        with opened(path, read_only=False) as connection:
            connection.execute("checkpoint")
    work, clean = path.with_name(f".{path.name}.forgetting"), path.with_name(f".{path.name}.clean")
    try:
        for leftover in (work, clean):
            leftover.unlink(missing_ok=True)
        shutil.copyfile(path, work)
        with opened(work, read_only=False) as connection:
            done = change(connection)
            source = connection.execute("select current_database()").fetchone()
            connection.execute(f"attach {quoted(str(clean))} as clean")
            connection.execute(f"copy from database {_name((source or ('',))[0])} to clean")
            for comment in _comments(connection):
                connection.execute(comment)
            connection.execute("detach clean")
        with clean.open("rb+") as written:
            os.fsync(written.fileno())
        os.replace(clean, path)
    finally:
        for leftover in (work, clean):
            for side in (leftover, leftover.with_name(leftover.name + ".wal")):
                side.unlink(missing_ok=True)
    return done


def take_rows_out(
    connection: duckdb.DuckDBPyConnection, student_id: str, lessons: set[str], names: Iterable[str]
) -> tuple[int, set[str]]:
    """Delete a student's rows from the connection's current database; return how many, and ids that were theirs."""
    own = _fill_own_ids(connection, student_id, lessons)
    rows = 0
    for table, condition in list(_conditions(connection, student_id)):
        taken = connection.execute(f"delete from {table} where {condition}").fetchone()
        rows += taken[0] if taken else 0
    _blank_free_text(connection, pattern((student_id, *names)))
    return rows, own


def _comments(connection: duckdb.DuckDBPyConnection) -> list[str]:
    """Return the statements that give the clean file the descriptions of the old one."""
    where = "where database_name = current_database() and not internal and comment is not null"
    tables = connection.execute(f"select schema_name, table_name, comment from duckdb_tables() {where}").fetchall()
    columns = connection.execute(
        f"select schema_name, table_name, column_name, comment from duckdb_columns() {where}"
    ).fetchall()
    told = [f"comment on table clean.{_name(s)}.{_name(t)} is {quoted(words)}" for s, t, words in tables]
    return told + [
        f"comment on column clean.{_name(s)}.{_name(t)}.{_name(c)} is {quoted(words)}" for s, t, c, words in columns
    ]


def text_columns(connection: duckdb.DuckDBPyConnection) -> dict[str, list[str]]:
    """Return every table of the file with its text columns."""
    rows = connection.execute(
        "select columns.schema_name, columns.table_name, column_name from duckdb_columns() as columns "
        "join duckdb_tables() as tables using (database_name, schema_name, table_name) "
        "where database_name = current_database() and data_type = 'VARCHAR' order by all"
    ).fetchall()
    tables: dict[str, list[str]] = {}
    for schema, table, column in rows:
        tables.setdefault(f"{_name(schema)}.{_name(table)}", []).append(column)
    return tables


def _fill_own_ids(connection: duckdb.DuckDBPyConnection, student_id: str, known: set[str]) -> set[str]:
    """Fill temp.main.own_id with ids of lessons, sessions and episodes that were the student's, and return them.

    They are the ids that stand beside their student_id, here or in a file seen before.
    """
    connection.execute("create or replace temp table own_id (id varchar)")
    if known:
        connection.execute("insert into own_id select unnest(?::varchar[])", [sorted(known)])
    for table, columns in text_columns(connection).items():
        for column in (set(owned()) & set(columns)) if "student_id" in columns else ():
            query = f"insert into own_id select distinct {column} from {table} where student_id = ? and {column} <> ''"
            connection.execute(query, [student_id])
    found = connection.execute("select distinct id from own_id where id is not null").fetchall()
    return {row[0] for row in found}


def _conditions(connection: duckdb.DuckDBPyConnection, student_id: str) -> Iterator[tuple[str, str]]:
    """Yield each table that can name a person, with the condition of the student's rows."""
    student = quoted(student_id)
    for table, columns in text_columns(connection).items():
        parts = [f"{column} = {student}" for column in columns if column.endswith("student_id")]
        parts += [f"{column} in (select id from temp.main.own_id)" for column in owned() if column in columns]
        if {"scope", "id"} <= set(columns):
            parts.append(f"(scope = 'student' and id = {student})")
        if {"kind", "subject_id"} <= set(columns):
            parts.append(f"(starts_with(kind, 'student') and subject_id = {student})")
        if parts:
            yield table, " or ".join(parts)


def _blank_free_text(connection: duckdb.DuckDBPyConnection, named: Mentioned) -> None:
    """Blank the words where outside words mention them."""
    for table, column, texts in list(_mentioning(connection, named)):
        for text in texts:
            left = named.sub(text) if column in BY_ID_TOO else named.names.mask(text, GONE)
            connection.execute(f"update {table} set {column} = $1 where {column} = $2", [left, text])


def _mentioning(connection: duckdb.DuckDBPyConnection, named: Mentioned) -> Iterator[tuple[str, str, list[str]]]:
    """Yield each column of outside words that mentions the person, with the texts that do."""
    for table, columns in text_columns(connection).items():
        for column in words_of(table, columns):
            found = connection.execute(f"select distinct {column} from {table} where {column} is not null").fetchall()
            holds = named.search if column in BY_ID_TOO else named.names.holds
            if texts := [text for (text,) in found if holds(text)]:
                yield table, column, texts


def _name(text: str) -> str:
    return f'"{text.replace(chr(34), chr(34) * 2)}"'
