"""Names and students' own words put into the file for those who may see them; the other file never held them.

The private database's published tables hold no name, so that the file without names is its plain copy and has no trace
of one. Not here: when (publish.py), who reads which file (the dashboard).
"""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

import duckdb
import polars as pl

NAMES = "select student_id, name from raw.student where consent = 'yes'"
GOALS = "select student_id, arg_max(words, entered_at) as words from raw.goal group by student_id"
PUT = {"mart.student": ("name", NAMES), "mart.goal": ("words", GOALS)}
"""Table -> the column that comes in, and the select over raw tables that gives it by student."""


def read_names(connection: duckdb.DuckDBPyConnection) -> dict[str, pl.DataFrame]:
    """Return what is to be put into each table, from the private databases; nothing where nothing was ever read."""
    found = {}
    for table, (_, select) in PUT.items():
        with suppress(duckdb.CatalogException):
            found[table] = connection.execute(select).pl()
    return found


def put_names(file: Path, names: dict[str, pl.DataFrame]) -> None:
    """Put names into a published file that nobody reads yet."""
    with duckdb.connect(file) as connection:
        for table, rows in names.items():
            column = PUT[table][0]
            if rows.is_empty():
                continue
            connection.register("named", rows)
            connection.execute(
                f"update {table} as held set {column} = named.{column} from named "
                "where held.student_id = named.student_id"
            )
            connection.unregister("named")
        connection.execute("checkpoint")
