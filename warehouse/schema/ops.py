"""Ops tables: which files came, what was refused, what was checked and published."""

from __future__ import annotations

from warehouse.schema.core import NIGHT
from warehouse.schema.declaration import Column, Table

EXPORT_FILE = Table(
    "ops.export_file",
    "one export, as last read",
    ("path",),
    (
        NIGHT,
        Column("bay_id", "VARCHAR", "The bay, by the file's name."),
        Column("path", "VARCHAR", "Under landing/shots."),
        Column("content_hash", "VARCHAR", "Of the file's bytes."),
        Column("status", "VARCHAR", "loaded, refused, or replaced by a newer file.",
               values=("loaded", "refused", "replaced")),
        Column("reason", "VARCHAR", "Why it was refused or replaced.", nullable=True),
        Column("rows_read", "BIGINT", "Rows in the file.", "rows", low=0),
        Column("rows_loaded", "BIGINT", "Rows loaded.", "rows", low=0),
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
        Column("reason", "VARCHAR", "The first fault.",
               values=("unparsable", "missing", "outside limits", "outside its night", "unknown club")),
        Column("detail", "VARCHAR", "What was expected, and the remedy.", nullable=True),
    ),
)  # fmt: skip

PUBLICATION = Table(
    "ops.publication",
    "one publication",
    ("published_at",),
    (
        Column("published_at", "TIMESTAMP", "When, UTC."),
        Column("through_night", "DATE", "The latest night in it.", nullable=True),
        Column("nights", "BIGINT", "Nights in it.", low=0),
        Column("shots", "BIGINT", "Shots in it.", low=0),
        Column("sessions", "BIGINT", "Sessions in it.", low=0),
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
        Column("shots", "BIGINT", "Shots in it.", "shots", low=0),
    ),
)  # fmt: skip

CHECK_RESULT = Table(
    "ops.check_result",
    "one check of the last run that found something",
    ("table_name", "check_name"),
    (
        Column("table_name", "VARCHAR", "The table checked."),
        Column("check_name", "VARCHAR", "The check."),
        Column("severity", "VARCHAR", "blocking or warning.", values=("blocking", "warning")),
        Column("faults", "BIGINT", "Rows at fault.", low=0),
        Column("example", "VARCHAR", "One of them, without names.", nullable=True),
    ),
)

TABLES = (EXPORT_FILE, REJECTED_ROW, PUBLICATION, BUILT_NIGHT, CHECK_RESULT)
