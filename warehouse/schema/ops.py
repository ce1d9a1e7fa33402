"""Ops tables: which files came, what was refused, what was checked and published."""

from __future__ import annotations

from warehouse.schema import raw
from warehouse.schema.core import NIGHT
from warehouse.schema.declaration import WARNING, WORDS, Column, Table


def as_read(table: Table, *left_out: str) -> tuple[Column, ...]:
    """Return the columns of a raw table that readers see, as they are declared there."""
    return tuple(column for column in table.columns if column.name not in left_out)


EXPORT_FILE = Table(
    "ops.export_file",
    "one export, as last read",
    ("path",),
    as_read(raw.EXPORT_FILE, "size_bytes", "modified_ns", "settings_hash", "latest", "in_force"),
)

REJECTED_ROW = Table(
    "ops.rejected_row",
    "one row of an export that could not be loaded, with its first fault",
    ("path", "line"),
    as_read(raw.REJECTED_ROW, "night", "bay_id", "latest"),
)

EXPORT_DECISION = Table(
    "ops.export_decision",
    "one decision of a person about an export: taken all the same, or taken back",
    ("number",),
    as_read(raw.EXPORT_DECISION, "note"),
)

PUBLICATION = Table(
    "ops.publication",
    "one publication",
    ("published_at",),
    (
        Column("published_at", "TIMESTAMP", "When it was published, UTC."),
        Column("through_night", "DATE", "The latest night in it.", nullable=True),
        Column("nights", "BIGINT", "Nights in the published file.", low=0),
        Column("shots", "BIGINT", "Shots of all its nights.", low=0),
        Column("sessions", "BIGINT", "Sessions in the published file.", low=0),
        Column("episodes", "BIGINT", "Drill episodes in it.", low=0),
        Column("nights_built", "BIGINT", "Nights built or built again for it.", low=0),
        Column("warnings", "VARCHAR", "Checks that warned, in words; empty if none.", personal=WORDS),
        Column("seconds", "DOUBLE", "How long its run took, up to the publication itself.", "s", True, 0),
        Column("rows_loaded", "BIGINT", "Rows of exports that its run loaded.", "rows", True, 0),
        Column("bytes_read", "BIGINT", "Bytes of the exports that its run read.", "B", True, 0),
        Column("checks", "BIGINT", "Checks made before it.", "checks", True, 0),
        Column("checks_warned", "BIGINT", "Checks that found something and let it pass.", "checks", True, 0),
    ),
)

BUILT_NIGHT = Table(
    "ops.night",
    "one night built",
    ("night",),
    (
        NIGHT,
        Column("fingerprint", "VARCHAR", "Of everything that shapes the night; when it changes the night is built "
               "again."),
        Column("shots", "BIGINT", "Shots of all its nights.", "shots", low=0),
    ),
)  # fmt: skip

CHECK_RESULT = Table(
    "ops.check_result",
    "one check of the last run that found something",
    ("table_name", "check_name"),
    (
        Column("table_name", "VARCHAR", "The table that was checked."),
        Column("check_name", "VARCHAR", "The check that found something."),
        Column("severity", "VARCHAR", "Whether the check is blocking or warning.", values=("blocking", "warning")),
        Column("faults", "BIGINT", "Rows found to be at fault.", low=0),
        Column("example", "VARCHAR", "One of them, without names.", nullable=True, personal=WORDS),
        Column("meaning", "VARCHAR", "What the check found, in words."),
        Column("remedy", "VARCHAR", "What to do about it.", nullable=True),
    ),
)

RUN_STEP = Table(
    "ops.run_step",
    "one step of the run that made this publication",
    ("step",),
    (
        Column("step", "VARCHAR", "The step; a table's own name where it makes one."),
        Column("started_at", "TIMESTAMP", "When it began, UTC."),
        Column("seconds", "DOUBLE", "How long it took.", "s", low=0, severity=WARNING),
        Column("rows", "BIGINT", "Rows it made, or loaded.", "rows", nullable=True, low=0),
        Column("bytes", "BIGINT", "Bytes of the exports it read.", "B", nullable=True, low=0),
        Column("checks", "BIGINT", "Checks made of what it made.", "checks", nullable=True, low=0),
        Column("checks_warned", "BIGINT", "Those that found something.", "checks", nullable=True, low=0),
    ),
)

CURRENT_THROUGH = Table(
    "ops.current_through",
    "one part of the publication, and through which night it is current",
    ("part",),
    (
        Column("part", "VARCHAR",
               "Sessions and blocks (renewed as files land) or evidence (at night, of a large home at least weekly).",
               values=("sessions and blocks", "evidence")),
        Column("through_night", "DATE", "The latest night in it.", nullable=True),
        Column("made_at", "TIMESTAMP", "When it was renewed, UTC."),
        Column("made_by", "VARCHAR", "Of the code that made it, as a hash."),
    ),
)  # fmt: skip

TABLES = (EXPORT_FILE, REJECTED_ROW, EXPORT_DECISION, PUBLICATION, BUILT_NIGHT, CHECK_RESULT, RUN_STEP, CURRENT_THROUGH)
