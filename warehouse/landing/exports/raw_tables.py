"""The raw tables made, and brought up to their declaration where an earlier version made them. Not here: their rows."""

from __future__ import annotations

import duckdb

from warehouse.schema.declaration import Table
from warehouse.schema.raw import EXPORT_TABLES, REFERENCE_FILE, REFERENCE_TABLES, SHOT

BOOKS_OF_SHOTS = ("raw.trimmed_night", "raw.trimmed_student")
"""What retention noted of shots that are now read again."""


def create_tables(con: duckdb.DuckDBPyConnection) -> list[str]:
    """Create all raw tables that are not there yet, and bring older ones up to their declaration.

    They gain the nullable columns declared since. Where that does not do, tables that tell of each other are made
    again, empty, and filled from the landing folder.

    Returns
    -------
    list of str
        The tables made again.
    """
    made_again = []
    for together, beside in ((EXPORT_TABLES, BOOKS_OF_SHOTS), ((*REFERENCE_TABLES, REFERENCE_FILE), ())):
        for table in together:
            con.execute(table.ddl())
        if not all(_fits(con, table) for table in together):
            for name in (*(table.name for table in together), *beside):
                con.execute(f"drop table if exists {name}")
            for table in together:
                con.execute(table.ddl())
                made_again.append(table.name)
    return made_again


def columns_held(con: duckdb.DuckDBPyConnection, table: Table) -> list[tuple[str, str]]:
    """Return the columns and types that a table has, which has to be there."""
    return [row[:2] for row in con.execute(f"describe {table.name}").fetchall()]


def _fits(con: duckdb.DuckDBPyConnection, table: Table) -> bool:
    """Return whether a table is as declared, once nullable columns declared since are added at its end.

    Only shots are written by name and may hold their columns in another order.
    """
    held = columns_held(con, table)
    gained = table.gained(held)
    for column in gained:
        con.execute(f'alter table {table.name} add column "{column.name}" {column.type}')
    if gained:
        held = columns_held(con, table)
    return sorted(held) == sorted(table.types) if table is SHOT else held == table.types
