"""Takes a person out of all that an academy keeps, and gives out a copy of all that is held on them.

Databases are written anew without the person, since a database keeps the bytes of deleted rows. Rows are found by
columns, not by table names: student_id, ids of lessons, sessions and episodes that were theirs, and rows of scope
student; free text that mentions the id or the name is blanked. Not here: landing files (forget_landing.py), logs
(forget_logs.py), asking twice first.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

import duckdb
import polars as pl

from warehouse.erasure.inbox import forget_in_inbox
from warehouse.erasure.landing import holding, mentions, rewrite, rows_of
from warehouse.erasure.logs import GONE, forget_logs, standing_alone
from warehouse.erasure.notebook import entries_of, forget_entries, on_servers
from warehouse.erasure.postgres import write_anew
from warehouse.home import Home
from warehouse.publishing import manifest
from warehouse.schema.declaration import quoted
from warehouse.settings.settings import Settings

OWNED = ("lesson_id", "session_id", "episode_id", "next_session_id")
FREE_TEXT = ("value", "detail", "example", "reason", "warnings", "note", "message", "original_path", "place")

Result = TypeVar("Result")


class StillOpen(RuntimeError):
    """A private database is in use, so it was not changed; the message says what to do."""


def forget(
    home: Home,
    student_id: str,
    *,
    notebook_url: str = "",
    rewrite_landing: bool = False,
    settings: Settings | None = None,
) -> list[str]:
    """Remove a student from private and published databases, the notebook and, if asked, the landing folder.

    Parameters
    ----------
    home
        The home folder; no run may be at work in it (hold `warehouse.connection.only_run`).
    notebook_url
        As in settings; empty: notebook.sqlite in the home.
    rewrite_landing
        Also rewrite tables and exports in landing that hold the id; else they are named.
    settings
        Where they name a lakehouse, the student is taken out of it too.

    Returns
    -------
    list of str
        What was done and what is left to do, a line each, without the person's name.

    Raises
    ------
    StillOpen
        A private database is in use by another process.
    """
    if not student_id.strip():
        raise ValueError("no student is given: give the student_id")
    lessons, said = set[str](), list[str]()
    names = names_of(home, student_id)
    unreadable = home.private / "unreadable"
    if unreadable.exists():
        shutil.rmtree(unreadable)
        said.append(f"{unreadable.relative_to(home.path)}: deleted, since what it holds cannot be opened and searched")
    for path in databases(home):
        with manifest.still_signed(home, path):
            rows, own = _rewrite_database(path, student_id, lessons, names)
        lessons |= own
        said.append(f"{path.relative_to(home.path)}: {rows} rows taken out, file written anew")
    if settings is not None and settings.lakehouse.on:
        from warehouse.lakehouse import forgetting

        said += forgetting.forget(home, settings, student_id, lessons, names)
    count = forget_entries(home.notebook_url(notebook_url), student_id, lessons, names)
    said.append(f"notebook: {count} entries taken out")
    said += forget_logs(home, {student_id, *names})
    kept = on_servers(home.notebook_url(notebook_url))
    if settings is not None and settings.lakehouse.on:
        said += forgetting.forget_history(settings, {student_id, *names})
        kept += forgetting.on_servers(settings)
    said += write_anew(kept, {student_id, *names})
    said += forget_in_inbox(home, student_id, names, rewrite_landing=rewrite_landing)
    held = {path: rewrite(home.landing, path, student_id) if rewrite_landing else "" for path in
            holding(home.landing, student_id)}  # fmt: skip
    still = " still holds them: the next night brings it back unless the file is rewritten"
    said += [f"{path.relative_to(home.path)}{f': {done}' if done else still}" for path, done in held.items()]
    for path in mentions(home.path, student_id, *names):
        place = path.relative_to(home.path)
        if home.landing not in path.parents:
            said.append(f"{place} still mentions the id or the name: delete the file or wait for its expiry")
        elif held.get(path, "rewritten").endswith(("rewritten", "taken out")):
            said.append(f"{place} still names them, or another of that name: look, and correct the file by hand")
    said.append("backups and copies made before now still hold them: delete those, or forget again what comes back")
    said.append("close and open the dashboard: an open reader still shows, and keeps on disk, the file it opened")
    said.append("run academy nightly --rebuild: numbers over many people were computed with this student")
    return said


def held_on(
    home: Home, student_id: str, *, notebook_url: str = "", settings: Settings | None = None
) -> dict[str, pl.DataFrame]:
    """Return all that is held on a student: by `file: table`, their rows of every table that has any.

    Read are the private databases, the current published file, the lakehouse where settings name one, and the notebook
    with entries since corrected.
    """
    held: dict[str, pl.DataFrame] = {}
    paths = [path for path in databases(home) if path.parent == home.private.resolve()]
    paths += [home.current.resolve()] if home.current.exists() else []
    lessons: set[str] = set()
    for path in paths:
        with _opened(path, read_only=True) as connection:
            for table, rows in rows_held(connection, student_id, lessons).items():
                held[f"{path.name}: {table}"] = rows
    if settings is not None and settings.lakehouse.on:
        from warehouse.lakehouse import forgetting

        for table, rows in forgetting.held_on(home, settings, student_id, lessons).items():
            held[f"lakehouse: {table}"] = rows
    for name, rows in entries_of(home.notebook_url(notebook_url), student_id, lessons).items():
        held[f"notebook: {name}"] = rows
    return held


def rows_held(connection: duckdb.DuckDBPyConnection, student_id: str, lessons: set[str]) -> dict[str, pl.DataFrame]:
    """Return a student's rows in the connection's current database; ids found to be theirs are added to `lessons`."""
    lessons |= _fill_own_ids(connection, student_id, lessons)
    asked = {table: f"select * from {table} where {where}" for table, where in _conditions(connection, student_id)}
    found = {table: connection.execute(select).pl() for table, select in asked.items()}
    return {table: rows for table, rows in found.items() if rows.height}


def databases(home: Home) -> list[Path]:
    """Return the database files of a home: private ones, then every published version; links left out."""
    found = (*sorted(home.private.glob("*.duckdb")), *sorted(home.published.glob("*.duckdb")))
    return [path for path in found if not path.is_symlink()]


@contextmanager
def _opened(path: Path, *, read_only: bool) -> Iterator[duckdb.DuckDBPyConnection]:
    try:
        connection = duckdb.connect(str(path), read_only=read_only)
    except duckdb.IOException as error:
        raise StillOpen(f"{path.name} is in use: let the run end, then try again") from error
    try:
        connection.execute("set timezone = 'UTC'")
        yield connection
    finally:
        connection.close()


def names_of(home: Home, student_id: str) -> set[str]:
    """Return the names under which a student is held, in the home's databases and in the landing folder."""
    landed = rows_of(home.landing / "academy" / "students.csv")
    found = {row.get("name") for row in landed if row.get("student_id") == student_id}
    for path in databases(home):
        with _opened(path, read_only=True) as connection:
            for table, columns in _tables(connection).items():
                if {"student_id", "name"} <= set(columns):
                    held = connection.execute(f"select distinct name from {table} where student_id = ?", [student_id])
                    found |= {name for (name,) in held.fetchall()}
    return {name for name in found if name and name != student_id}


def _rewrite_database(path: Path, student_id: str, lessons: set[str], names: set[str]) -> tuple[int, set[str]]:
    """Put in a file's place one without the student; return rows taken out and ids of their lessons and sessions."""
    return rewritten(path, lambda connection: take_rows_out(connection, student_id, lessons, names))


def rewritten(path: Path, change: Callable[[duckdb.DuckDBPyConnection], Result]) -> Result:
    """Put in a database file's place one after a change, which holds nothing of what went; return what it returned.

    A copy is worked on, so that a reader of a published version goes on undisturbed, and a crash leaves the old file.
    """
    log = path.with_name(path.name + ".wal")
    if log.exists():
        with _opened(path, read_only=False) as connection:
            connection.execute("checkpoint")
    work, clean = path.with_name(f".{path.name}.forgetting"), path.with_name(f".{path.name}.clean")
    try:
        for leftover in (work, clean):
            leftover.unlink(missing_ok=True)
        shutil.copyfile(path, work)
        with _opened(work, read_only=False) as connection:
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
    _blank_free_text(connection, (student_id, *names))
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


def _tables(connection: duckdb.DuckDBPyConnection) -> dict[str, list[str]]:
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
    for table, columns in _tables(connection).items():
        for column in (set(OWNED) & set(columns)) if "student_id" in columns else ():
            query = f"insert into own_id select distinct {column} from {table} where student_id = ? and {column} <> ''"
            connection.execute(query, [student_id])
    found = connection.execute("select distinct id from own_id where id is not null").fetchall()
    return {row[0] for row in found}


def _conditions(connection: duckdb.DuckDBPyConnection, student_id: str) -> Iterator[tuple[str, str]]:
    """Yield each table that can name a person, with the condition of the student's rows."""
    student = quoted(student_id)
    for table, columns in _tables(connection).items():
        parts = [f"{column} = {student}" for column in columns if column.endswith("student_id")]
        parts += [f"{column} in (select id from temp.main.own_id)" for column in OWNED if column in columns]
        if {"scope", "id"} <= set(columns):
            parts.append(f"(scope = 'student' and id = {student})")
        if {"kind", "subject_id"} <= set(columns):
            parts.append(f"(starts_with(kind, 'student') and subject_id = {student})")
        if parts:
            yield table, " or ".join(parts)


def _blank_free_text(connection: duckdb.DuckDBPyConnection, words: Iterable[str]) -> None:
    """Blank the words where free text mentions them."""
    pattern, gone = standing_alone(words), rf"\1{GONE}\2"
    for table, columns in _tables(connection).items():
        for column in set(FREE_TEXT) & set(columns):
            # Twice: of two that stand side by side, the first takes the blank between them.
            once = f"regexp_replace({column}, $1, $2, 'g')"
            connection.execute(
                f"update {table} set {column} = regexp_replace({once}, $1, $2, 'g') where regexp_matches({column}, $1)",
                [pattern, gone],
            )


def _name(text: str) -> str:
    return f'"{text.replace(chr(34), chr(34) * 2)}"'
