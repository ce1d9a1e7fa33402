"""The notebook's tables. Rows are only ever added: a correction is a new row that names the one it corrects.

Times of things that happened are the site's local time; `entered_at` is UTC. Not here: how rows are written
(store.py, actions.py) and read (reading.py).
"""

from __future__ import annotations

import polars as pl
from sqlalchemy import Boolean, Column, Date, DateTime, Float, Integer, String, Table, Text

from warehouse.notebook.entry_table import METADATA, entry_table, student_column
from warehouse.notebook.trial_tables import TRIAL_TABLES

VERSION = 1

CHOSEN_BY = ("coach", "student", "draw")
STRETCHES = ("coach hitting", "another student", "not full swings", "moved to bay")
STOPS = ("pain", "aid struck", "rebound")
USES = ("sql", "download")


DRILL_ENTRY = entry_table(
    "drill_entry",
    Column("lesson_id", String(200), comment="The lesson; or student and bay."),
    student_column(nullable=True),
    Column("bay_id", String(200), comment="The bay."),
    Column("drill_id", String(200), nullable=False, comment="The drill."),
    Column("starts_at", DateTime, nullable=False, comment="The aid went down, local time."),
    Column("ends_at", DateTime, comment="The aid came up, local time; null while it runs."),
    Column("chosen_by", String(20), comment="coach, student, or draw: by lot."),
    Column("placed_afterwards", Boolean, nullable=False, comment="Entered later, by the gaps between shots."),
)
SET_ASIDE = entry_table(
    "set_aside",
    Column("bay_id", String(200), nullable=False, comment="The bay."),
    student_column(nullable=True),
    Column("starts_at", DateTime, nullable=False, comment="Start, local time."),
    Column("ends_at", DateTime, comment="End, local time; null while it lasts."),
    Column("kind", String(40), nullable=False, comment="What it was."),
    Column("moved_to_bay_id", String(200), comment="For 'moved to bay': which."),
)
STOP_ENTRY = entry_table(
    "stop_entry",
    student_column(),
    Column("drill_id", String(200), nullable=False, comment="The drill that was stopped."),
    Column("kind", String(40), nullable=False, comment="pain, aid struck or rebound."),
    Column("at", DateTime, nullable=False, comment="When, local time."),
)
OBSERVATION = entry_table(
    "observation",
    student_column(),
    Column("observed_at", DateTime, nullable=False, comment="When, local time."),
    Column("measure", String(100), nullable=False, comment="What was observed, by its name in measures.csv."),
    Column("value", Float, nullable=False, comment="How much."),
    Column("unit", String(20), nullable=False, comment="Unit of the value."),
    Column("coach_id", String(200), comment="Who saw it."),
)
GOAL = entry_table(
    "goal",
    student_column(),
    Column("words", Text, nullable=False, comment="The goal in the student's words."),
    Column("metric", String(40), nullable=False, comment="The number that shows it."),
    Column("club_group", String(20), nullable=False, comment="With which clubs."),
    Column("target", Float, nullable=False, comment="The number aimed at, canonical unit."),
    Column("by_date", Date, comment="By when."),
)
HOLD = entry_table(
    "hold",
    student_column(),
    Column("drill_id", String(200), comment="The drill not to be given; or"),
    Column("aim_metric", String(40), comment="the aim not to be worked on."),
    Column("until", Date, nullable=False, comment="The first day it may be given again."),
)
USAGE = entry_table(
    "usage",
    Column("who", String(200), nullable=False, comment="Who asked."),
    Column("what", String(20), nullable=False, comment="sql or download."),
    Column("detail", Text, nullable=False, comment="The query, or what was downloaded."),
    Column("at", DateTime, nullable=False, comment="When, UTC."),
)
TABLES: dict[str, Table] = {
    table.name: table for table in (DRILL_ENTRY, SET_ASIDE, STOP_ENTRY, OBSERVATION, GOAL, HOLD, USAGE, *TRIAL_TABLES)
}
SCHEMA_VERSION = Table("notebook_schema", METADATA, Column("version", Integer, primary_key=True, autoincrement=False))

_FRAME_TYPES: dict[type, pl.DataType | type[pl.DataType]] = {
    Integer: pl.Int64, String: pl.String, Text: pl.String, Float: pl.Float64, Boolean: pl.Boolean, Date: pl.Date,
    DateTime: pl.Datetime("us"),
}  # fmt: skip


def frame_schema(table: Table) -> dict[str, pl.DataType | type[pl.DataType]]:
    """Return the frame's columns of a table, in order."""
    return {column.name: _FRAME_TYPES[type(column.type)] for column in table.columns}
