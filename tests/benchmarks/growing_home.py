"""A home with a long history whose last night has not landed yet. Not here: what is measured on it."""

from __future__ import annotations

import shutil
from pathlib import Path

import polars as pl

from demo_data.history import LAST_NIGHT, write_history

BAYS, NIGHT_SHOTS = 40, 100_000
TABLES_THAT_GROW = ("lessons", "drill_log")


def write_landing(landing: Path, waiting: Path, history_shots: int) -> None:
    """Write a history, and beside it the night that comes next.

    Parameters
    ----------
    landing
        The landing folder to make; it holds `history_shots` shots and the lessons of their nights.
    waiting
        Folder for the night of 100,000 shots in 40 files, laid out as it will stand in the landing folder.
    history_shots
        Shots before that night.
    """
    write_history(landing, shots=history_shots + NIGHT_SHOTS, bays=BAYS, last_night_shots=NIGHT_SHOTS)
    night = LAST_NIGHT.isoformat()
    (waiting / "shots").mkdir(parents=True)
    (landing / "shots" / night).rename(waiting / "shots" / night)
    (waiting / "academy").mkdir()
    for table in TABLES_THAT_GROW:
        path = landing / "academy" / f"{table}.csv"
        shutil.copyfile(path, waiting / "academy" / path.name)
        rows = pl.read_csv(path, infer_schema=False)
        rows.filter(~pl.col("starts_at").str.starts_with(night)).write_csv(path)


def land(waiting: Path, landing: Path) -> list[Path]:
    """Let the waiting night land, with its lessons and drills; return its exports."""
    shutil.copytree(waiting, landing, dirs_exist_ok=True)
    return sorted((landing / "shots" / LAST_NIGHT.isoformat()).iterdir())


def exports(landing: Path) -> list[Path]:
    """Return every export of a landing folder."""
    return sorted((landing / "shots").glob("*/*"))
