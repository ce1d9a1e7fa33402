""" "Not for this student until …”: which holds are in force, and a list of drills without those that are held.

Every recommendation asks here. Not here: how a hold is entered (notebook_forms.py).
"""

from __future__ import annotations

from datetime import date

import polars as pl
from sqlalchemy.exc import SQLAlchemyError

from dashboard.notebook import store
from dashboard.shell.home_view import Home
from warehouse.notebook.store import NotebookRefused
from warehouse.settings import settings

NONE = pl.DataFrame(schema={"student_id": pl.String, "drill_id": pl.String, "aim_metric": pl.String, "until": pl.Date})


def in_force(home: Home, student_id: str, day: date | None = None) -> pl.DataFrame:
    """Return a student's holds in force on a day (today, if none is given): drill_id, aim_metric, until, entry_id.

    Raises
    ------
    Exception
        The notebook is there and cannot be read: then nothing may be recommended.
    """
    if not store.exists(home):
        return NONE
    day = day or date.today()
    return store.of_student(store.opened(home), "hold", student_id).filter(pl.col("until") > day)


def readable(home: Home, student_id: str, day: date | None = None) -> pl.DataFrame | None:
    """Return a student's holds in force; None where they cannot be read: then nothing may be recommended."""
    try:
        return in_force(home, student_id, day)
    except (SQLAlchemyError, OSError, NotebookRefused, settings.SettingsFault):
        return None


def allowed(frame: pl.DataFrame, holds: pl.DataFrame) -> pl.DataFrame:
    """Return a list of drills without those that are held, by drill or by aim.

    Parameters
    ----------
    frame
        Rows with drill_id, and the aim in aim_metric or metric; with student_id, holds are taken by student.
    holds
        Rows with drill_id or aim_metric (the other null); with student_id where the frame has it.
    """
    aim = "aim_metric" if "aim_metric" in frame.columns else "metric"
    by = ["student_id"] if "student_id" in frame.columns else []
    drills = holds.filter(pl.col("drill_id").is_not_null())
    aims = holds.filter(pl.col("aim_metric").is_not_null())
    left = frame.join(drills, on=[*by, "drill_id"], how="anti")
    return left.join(aims, left_on=[*by, aim], right_on=[*by, "aim_metric"], how="anti")


def names(drills: pl.DataFrame, holds: pl.DataFrame) -> list[str]:
    """Return the names of drills that are held, by drill or by aim (query drills)."""
    left = allowed(drills, holds)
    return drills.join(left, on="drill_id", how="anti")["name"].to_list()
