"""Ops tables: which files came, what was refused, what was checked and published."""

from __future__ import annotations

from warehouse.schema.core import NIGHT
from warehouse.schema.declaration import WARNING, Column, Table

EXPORT_FILE = Table(
    "ops.export_file",
    "one export, as last read",
    ("path",),
    (
        NIGHT,
        Column("bay_id", "VARCHAR", "The bay, by the file's name."),
        Column("path", "VARCHAR", "The file, under landing/shots."),
        Column("content_hash", "VARCHAR", "Of the file's bytes."),
        Column("status", "VARCHAR", "loaded, refused, or replaced by a newer file.",
               values=("loaded", "refused", "replaced")),
        Column("reason", "VARCHAR", "Why it was refused or replaced.", nullable=True),
        Column("rows_read", "BIGINT", "Rows in the file.", "rows", low=0),
        Column("rows_loaded", "BIGINT", "Rows loaded as shots.", "rows", low=0),
        Column("rows_rejected", "BIGINT", "Rows rejected, each in ops.rejected_row.", "rows", low=0),
        Column("rows_duplicate", "BIGINT", "Exact duplicates left out.", "rows", low=0),
        Column("read_at", "TIMESTAMP", "When it was read, UTC."),
    ),
)  # fmt: skip

REJECTED_ROW = Table(
    "ops.rejected_row",
    "one row of an export that could not be loaded, with its first fault",
    ("path", "line"),
    (
        Column("path", "VARCHAR", "The export, under landing/shots."),
        Column("line", "BIGINT", "The line in it.", low=1),
        Column("column_name", "VARCHAR", "The canonical column at fault.", nullable=True),
        Column("value", "VARCHAR", "The value as it stands in the file.", nullable=True),
        Column("reason", "VARCHAR", "The first fault found in the row.",
               values=("unparsable", "missing", "outside limits", "outside its night", "unknown club")),
        Column("detail", "VARCHAR", "What was expected, and the remedy.", nullable=True),
    ),
)  # fmt: skip

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
        Column("warnings", "VARCHAR", "Checks that warned, in words; empty if none."),
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
        Column("example", "VARCHAR", "One of them, without names.", nullable=True),
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
    ),
)

TABLES = (EXPORT_FILE, REJECTED_ROW, PUBLICATION, BUILT_NIGHT, CHECK_RESULT, RUN_STEP)
