"""Tables by their declarations, and how made rows get into them. Shared sizes of the made file."""

from __future__ import annotations

from datetime import date
from typing import Any

import duckdb
import polars as pl

from warehouse.schema.registry import TABLES

START = date(2031, 3, 3)
WEEKS = 6
STUDENTS, BAYS = 24, 6
GROUPS = {"driver": "driver", "iron": "iron-7"}
LEVELS = {
    "attack_angle": {"driver": 0.5, "iron": -4.0},
    "club_path": {"driver": -1.0, "iron": 1.0},
    "club_speed": {"driver": 42.0, "iron": 34.0},
    "carry": {"driver": 205.0, "iron": 140.0},
    "face_to_path": {"driver": 1.5, "iron": 0.5},
    "dynamic_loft": {"driver": 13.0, "iron": 24.0},
}
DISTANCES = ("club_path", "face_to_path")
SHOT_SD = {
    "attack_angle": 1.4,
    "club_path": 2.0,
    "club_speed": 0.9,
    "carry": 9.0,
    "face_to_path": 2.0,
    "dynamic_loft": 1.5,
}
DRILLS = (
    ("R1", "Rod behind the ball", "attack_angle", "raise", None, "driver", 1.4, "works", "moderate"),
    ("R2", "High tee", "attack_angle", "raise", None, "driver", 0.6, "helps", "low"),
    ("R3", "Heavy club", "attack_angle", "raise", None, "driver", -0.9, "wrong way", "moderate"),
    ("R4", "Slow count", "attack_angle", "raise", None, "driver", 0.1, "no meaningful effect", "moderate"),
    ("R5", "New idea", "attack_angle", "raise", None, "driver", None, "too early", "very low"),
    ("R6", "Under the rod", "club_path", "toward", 1.0, "any", -0.8, "helps", "moderate"),
    ("R7", "Eyes closed", None, None, None, "any", None, None, None),
)


def fill(connection: duckdb.DuckDBPyConnection, name: str, rows: list[dict[str, Any]] | pl.DataFrame) -> None:
    """Insert rows into a declared table; columns not given are null."""
    table = TABLES[name]
    given = rows if isinstance(rows, pl.DataFrame) else pl.DataFrame(rows, infer_schema_length=None)
    extra = set(given.columns) - set(table.column_names)
    assert not extra, f"{name} has no column {extra}"
    connection.register("given", given)
    picked = ", ".join(
        f'"{column.name}"::{column.type}' if column.name in given.columns else f"null::{column.type}"
        for column in table.columns
    )
    connection.execute(f"insert into {name} select {picked} from given")
    connection.unregister("given")


def student_id(number: int) -> str:
    """Return the id of a student."""
    return f"S{number:03d}"


def week_start(column: str) -> pl.Expr:
    """Return the Monday of a date column."""
    return pl.col(column).dt.truncate("1w")
