"""Takes a person out of the lakehouse: rows, the files that held them, and the snapshots that named those files.

Rows are found as in one machine's databases. Files are written anew without them, every older snapshot is expired and
its files are deleted, so that no reader can go back. Not here: the publisher's databases, the notebook, the landing
folder (warehouse/forget.py).
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import duckdb
import polars as pl

from warehouse.forget import rows_held, take_rows_out
from warehouse.forget_landing import mentions
from warehouse.home import Home
from warehouse.lakehouse import lease, tables
from warehouse.lakehouse.attachment import NAME, Lake, Result, data_path
from warehouse.settings import Settings

STATISTICS = ("ducklake_table_column_stats", "ducklake_file_column_stats")
"""Tables of the catalog that hold least and greatest values of columns."""

EXPIRE = (
    f"call ducklake_expire_snapshots('{NAME}', older_than => now())",
    f"call ducklake_cleanup_old_files('{NAME}', cleanup_all => true)",
    f"call ducklake_delete_orphaned_files('{NAME}', cleanup_all => true)",
)
SERVER = (
    "PostgreSQL keeps deleted rows of its catalog until it is vacuumed: run `vacuum full` there; its write-ahead log, "
    "its backups, and versions that an object store keeps, go by their own rules"
)


def forget(home: Home, settings: Settings, student_id: str, lessons: set[str]) -> list[str]:
    """Take a student out of the lakehouse and return what was done and what is left to do, without the name.

    Parameters
    ----------
    lessons
        Ids of lessons, sessions and episodes known to be the student's; those found here are added.

    Raises
    ------
    HomeIsBusy
        A publication is being made.
    """
    lakehouse = settings.lakehouse
    with (
        lease.held(home, lakehouse, lease.PUBLICATION),
        lease.held(home, lakehouse, lease.COMMIT, wait=True),
        duckdb.connect() as connection,
    ):
        connection.execute("set timezone = 'UTC'")
        lake = Lake.open(connection, home, settings)
        tables.make(lake)
        rows, own = lake.once(lambda: _within(lake, lambda: take_rows_out(connection, student_id, lessons)))
        lessons |= own
        for name in (table.name for table in tables.ALL):
            schema, table = name.split(".")
            lake.once(lambda schema=schema, table=table: connection.execute(
                f"call ducklake_rewrite_data_files('{NAME}', '{table}', schema => '{schema}', delete_threshold => 0)"
            ))  # fmt: skip
        for statement in EXPIRE:
            lake.once(lambda statement=statement: connection.execute(statement))
        said = [f"lakehouse: {rows} rows taken out, files written anew, older snapshots and their files deleted"]
        said += _left(lake, student_id)
    if lakehouse.shared:
        said.append(SERVER)
    return said


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


def _left(lake: Lake, student_id: str) -> list[str]:
    """Return what still names the student: a file on a path that can be searched, or a column's statistics."""
    said = []
    folder = data_path(lake.settings, lake.home)
    if "://" not in folder:
        held = mentions(Path(folder), student_id)
        said += [f"{path} still mentions the id: run `academy forget` again" for path in held]
    metadata = f"__ducklake_metadata_{NAME}" + (f".{lake.settings.catalog_schema}" if lake.settings.shared else "")
    word = rf"(^|[^0-9A-Za-z]){re.escape(student_id)}($|[^0-9A-Za-z])"
    for name in STATISTICS:
        where = f"from {metadata}.{name} where regexp_matches(coalesce(min_value, ''), $1) "
        where += "or regexp_matches(coalesce(max_value, ''), $1)"
        (count,) = lake.read(f"select count(*) {where}", [word])[0]
        if count:
            said.append(f"the catalog's {name} names the id as the least or greatest of {count} columns")
    return said
