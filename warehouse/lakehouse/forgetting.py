"""Takes a person out of the lakehouse: rows, the files that held them, and the snapshots that named those files.

Rows are found as in one machine's databases. Files are written anew without them, every older snapshot is expired and
its files are deleted, so that no reader can go back; then the catalog and Dagster's history. Not here: the publisher's
databases, the notebook, the landing folder (warehouse/erasure/erase.py).
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterable
from contextlib import ExitStack
from pathlib import Path

import duckdb
import polars as pl

from warehouse.erasure import postgres
from warehouse.erasure.erase import rewritten, rows_held, take_rows_out
from warehouse.erasure.landing import mentions
from warehouse.erasure.logs import standing_alone
from warehouse.erasure.postgres import Kept
from warehouse.home import Home
from warehouse.lakehouse import lease, sites, tables
from warehouse.lakehouse.attachment import NAME, Lake, Result, data_path, runs_schema, runs_url, server
from warehouse.settings.settings import Settings

STATISTICS = ("ducklake_table_column_stats", "ducklake_file_column_stats")
"""Tables of the catalog that hold least and greatest values of columns: of a whole table, and of a file."""

EXPIRE = (
    f"call ducklake_expire_snapshots('{NAME}', older_than => now())",
    f"call ducklake_cleanup_old_files('{NAME}', cleanup_all => true)",
    f"call ducklake_delete_orphaned_files('{NAME}', cleanup_all => true)",
)
STORE_KEEPS = "the object store: versions that it keeps of deleted files go by its own rules: let them expire there"


def forget(home: Home, settings: Settings, student_id: str, lessons: set[str], names: set[str]) -> list[str]:
    """Take a student out of the lakehouse and return what was done and what is left to do, without the name.

    Parameters
    ----------
    lessons, names
        Ids of lessons, sessions and episodes, and names, known to be the student's; those found here are added.

    Raises
    ------
    HomeIsBusy
        A site's worker is at work, or a publication is being made: it holds the student's rows and would commit them.
    """
    lakehouse = settings.lakehouse
    with ExitStack() as leases:
        for site_id in sites.sites(home.landing):
            leases.enter_context(lease.held(home, lakehouse, lease.site(site_id)))
            # What a killed worker left, on this machine.
            shutil.rmtree(sites.scratch(home, settings, site_id), ignore_errors=True)
        leases.enter_context(lease.held(home, lakehouse, lease.PUBLICATION))
        leases.enter_context(lease.held(home, lakehouse, lease.COMMIT, wait=True))
        with duckdb.connect() as connection:
            connection.execute("set timezone = 'UTC'")
            lake = Lake.open(connection, home, settings)
            said = _taken_out(lake, student_id, lessons, names)
            said += _left(lake, student_id, names)
        if not lakehouse.shared:
            rewritten(home.path / lakehouse.catalog, lambda _: None)
    if "://" in lakehouse.data_path:
        said.append(STORE_KEEPS)
    if lakehouse.scratch:
        said.append(f"workers of other machines: what a killed run left in {lakehouse.scratch} goes with its next run")
    return said


def forget_history(settings: Settings, words: set[str]) -> list[str]:
    """Blank the words in Dagster's history where a server keeps it; say in how many values they stood."""
    url = runs_url(settings.lakehouse)
    if url is None:
        return []
    count = postgres.blank(url, runs_schema(settings.lakehouse), words)
    return [f"Dagster's history on {postgres.place(url)}: blanked in {count} values"]


def on_servers(settings: Settings) -> list[Kept]:
    """Return the tables of servers that held a person: the catalog's, and those of Dagster's history."""
    lakehouse, url = settings.lakehouse, runs_url(settings.lakehouse)
    kept = [Kept(url, runs_schema(lakehouse))] if url is not None else []
    return kept + ([Kept(server(lakehouse.catalog), lakehouse.catalog_schema)] if lakehouse.shared else [])


def _taken_out(lake: Lake, student_id: str, lessons: set[str], names: set[str]) -> list[str]:
    connection = lake.connection
    tables.make(lake)
    held = lake.read(f"select distinct name from {NAME}.raw.student where student_id = $1", [student_id])
    names |= {name for (name,) in held if name and name != student_id}
    rows, own = lake.once(lambda: _within(lake, lambda: take_rows_out(connection, student_id, lessons, names)))
    lessons |= own
    for name in (table.name for table in tables.ALL):
        schema, table = name.split(".")
        lake.once(lambda schema=schema, table=table: connection.execute(
            f"call ducklake_rewrite_data_files('{NAME}', '{table}', schema => '{schema}', delete_threshold => 0)"
        ))  # fmt: skip
    for statement in EXPIRE:
        lake.once(lambda statement=statement: connection.execute(statement))
    # DuckLake only ever widens what a table's columns range over. Null is not known; files have ranges of their own.
    where, given = _statistics_that_name((student_id, *names))
    of_tables = f"{_metadata(lake)}.{STATISTICS[0]}"
    lake.once(lambda: connection.execute(
        f"update {of_tables} set min_value = null, max_value = null where {where}", given
    ))  # fmt: skip
    return [f"lakehouse: {rows} rows taken out, files written anew, older snapshots and their files deleted"]


def held_on(home: Home, settings: Settings, student_id: str, lessons: set[str]) -> dict[str, pl.DataFrame]:
    """Return a student's rows of every table of the lakehouse that has any; ids that are theirs join `lessons`."""
    with duckdb.connect() as connection:
        connection.execute("set timezone = 'UTC'")
        lake = Lake.open(connection, home, settings)
        tables.make(lake)
        return lake.once(lambda: _within(lake, lambda: rows_held(connection, student_id, lessons)))


def _within(lake: Lake, step: Callable[[], Result]) -> Result:
    """Run a step whose tables are the lakehouse's."""
    lake.connection.execute(f"use {NAME}")
    try:
        return step()
    finally:
        lake.connection.execute("use memory")


def _left(lake: Lake, student_id: str, names: set[str]) -> list[str]:
    """Return what still names the student: a file on a path that can be searched, or a column's statistics."""
    said = []
    folder = data_path(lake.settings, lake.home)
    if "://" not in folder:
        held = mentions(Path(folder), student_id, *names)
        said += [f"{path} still mentions the id or the name: run `academy forget` again" for path in held]
    where, given = _statistics_that_name((student_id, *names))
    for name in STATISTICS:
        (count,) = lake.read(f"select count(*) from {_metadata(lake)}.{name} where {where}", given)[0]
        if count:
            said.append(f"the catalog's {name} holds the id or the name in {count} rows: run `academy forget` again")
    return said


def _metadata(lake: Lake) -> str:
    """Return where DuckLake's own tables are."""
    return f"__ducklake_metadata_{NAME}" + (f".{lake.settings.catalog_schema}" if lake.settings.shared else "")


def _statistics_that_name(words: Iterable[str]) -> tuple[str, list[object]]:
    """Return the condition that a least or greatest value holds one of the words, and what is given to it."""
    asked = "regexp_matches(coalesce(min_value, ''), $1) or regexp_matches(coalesce(max_value, ''), $1)"
    return asked, [standing_alone(words)]
