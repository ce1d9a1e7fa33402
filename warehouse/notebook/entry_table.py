"""What every table of the notebook has: who entered a row and when, and what it corrects. Not here: the tables."""

from __future__ import annotations

from sqlalchemy import Boolean, Column, DateTime, Integer, MetaData, String, Table

METADATA = MetaData()


def entry_table(name: str, *columns: Column) -> Table:
    """Return a table of entries: who entered it and when, what it corrects, and its own columns."""
    return Table(
        name,
        METADATA,
        Column("number", Integer, primary_key=True, autoincrement=True, comment="Order of entry."),
        Column("entry_id", String(36), nullable=False, unique=True, comment="The entry, a UUID."),
        Column("first_entry_id", String(36), nullable=False, index=True, comment="The first entry of its corrections."),
        Column("corrects", String(36), comment="The entry it takes the place of; null for a first entry."),
        Column("withdrawn", Boolean, nullable=False, default=False, comment="Taken back: it stands no longer."),
        Column("entered_at", DateTime, nullable=False, comment="When it was entered, UTC."),
        Column("entered_by", String(200), nullable=False, comment="Who entered it: role, or name where known."),
        *columns,
        sqlite_autoincrement=True,
    )


def student_column(nullable: bool = False) -> Column:
    """Return the column that names a student."""
    return Column("student_id", String(200), nullable=nullable, comment="The student.")
