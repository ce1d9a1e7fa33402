"""What the lakehouse keeps: the tables as declared, and its own books of sites' nights; made where they are not there.

`raw` is a schema of the lakehouse like core, mart and ops. Not here: how rows get in (sites.py for sites' nights,
publication.py for what is made whole).
"""

from __future__ import annotations

from warehouse.lakehouse.attachment import NAME, Lake
from warehouse.schema import entered, raw
from warehouse.schema.core import NIGHT, SITE_ID
from warehouse.schema.declaration import Column, Table
from warehouse.schema.registry import TABLES

SITE_NIGHT = Table(
    "ops.site_night",
    "one site's night as a worker last committed it",
    ("site_id", "night"),
    (
        SITE_ID,
        NIGHT,
        Column("fingerprint", "VARCHAR", "Of all that shaped it; null: no export in force.", nullable=True),
        Column("shots", "BIGINT", "Shots in core.shot of this site's night.", "shots", low=0),
        Column("version", "VARCHAR", "Another one with every commit, so that a publication knows what is new."),
    ),
    published=False,
)  # fmt: skip

SITE_RUN = Table(
    "ops.site_run",
    "one site, and the last worker's run that committed to it",
    ("site_id",),
    (
        SITE_ID,
        Column("version", "VARCHAR", "Of the run's commit. Every commit writes here, so two at once conflict."),
        Column("committed_at", "TIMESTAMP", "When it was committed, UTC."),
        Column("warnings", "VARCHAR", "What the run warned of, a line each."),
    ),
    published=False,
)

NIGHT_STUDENT = Table(
    "raw.night_student",
    "one student named by the exports of one site's night",
    ("site_id", "night", "student_id"),
    (SITE_ID, NIGHT, Column("student_id", "VARCHAR", "As the export says; so that a corrected hand is noticed.")),
    published=False,
)

BOOKS = (SITE_NIGHT, SITE_RUN, NIGHT_STUDENT)
BY_NIGHT = tuple(table for table in TABLES.values() if table.night is not None)
"""Replaced by site and night."""
OF_EXPORTS = (raw.SHOT, raw.REPEATED_SHOT, raw.REJECTED_ROW, raw.EXPORT_FILE)
"""Replaced by site and night with the exports they come from."""
WHOLE = (
    *raw.REFERENCE_TABLES,
    *entered.TABLES,
    *(table for table in TABLES.values() if table.night is None),
)
"""Replaced whole by every publication."""
ALL = (*BOOKS, *OF_EXPORTS, *BY_NIGHT, *WHOLE)


def make(lake: Lake) -> None:
    """Make what is not there; a table whose columns are no longer those declared gains them, or is made again, empty.

    Where a site's table had to be emptied, every night of every site is built again from its exports.
    """
    if lake.once(lambda: differing(lake)):
        # Looked at again in the transaction that changes them: another worker may have made them in the meantime.
        lake.once(lambda: _change(lake, differing(lake)))


def differing(lake: Lake) -> list[tuple[Table, list[tuple[str, str]]]]:
    """Return the tables that are not as declared, with the columns they have; none: not there."""
    held = columns_held(lake)
    wanted = ((table, held.get(table.name, [])) for table in ALL)
    return [(table, columns) for table, columns in wanted if sorted(columns) != sorted(table.types)]


def _change(lake: Lake, other: list[tuple[Table, list[tuple[str, str]]]]) -> None:
    def run(statement: str, table: Table) -> None:
        lake.connection.execute(statement.replace(f" {table.name}", f" {NAME}.{table.name}", 1))

    for schema in ("raw", "core", "mart", "ops"):
        lake.connection.execute(f"create schema if not exists {NAME}.{schema}")
    emptied = False
    for table, held in other:
        if gained := table.gained(held) if table in OF_EXPORTS else []:
            for column in gained:
                run(f'alter table {table.name} add column "{column.name}" {column.type}', table)
            continue
        if held:
            run(f"drop table {table.name}", table)
            emptied = emptied or table not in WHOLE
        run(table.ddl(), table)
        for comment in table.comments():
            run(comment, table)
    if emptied:
        for table in (raw.EXPORT_FILE, SITE_NIGHT):
            run(f"delete from {table.name}", table)


def columns_held(lake: Lake) -> dict[str, list[tuple[str, str]]]:
    """Return the columns and types of every table that is there, as the transaction at work sees them."""
    rows = lake.connection.execute(
        "select schema_name || '.' || table_name, column_name, data_type from duckdb_columns() "
        f"where database_name = '{NAME}' order by schema_name, table_name, column_index"
    ).fetchall()
    held: dict[str, list[tuple[str, str]]] = {}
    for table, column, kind in rows:
        held.setdefault(table, []).append((column, "TIMESTAMPTZ" if kind == "TIMESTAMP WITH TIME ZONE" else kind))
    return held
