"""The long history has exactly the rows asked for, in files of the size asked for, and its lessons hold its shots."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from demo_data.history import FILE_SHOTS, write_history


@pytest.fixture(scope="module")
def landing(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("history") / "landing"
    write_history(folder, shots=90_001, bays=12, last_night_shots=20_003, seed=3)
    return folder


def rows(files: list[Path]) -> int:
    return sum(pl.read_csv(file, infer_schema=False).height for file in files)


def test_shots_in_all_and_of_the_last_night_are_exact(landing):
    nights = sorted(p for p in (landing / "shots").iterdir())
    assert rows(sorted((landing / "shots").glob("*/*.csv"))) == 90_001
    assert rows(sorted(nights[-1].iterdir())) == 20_003 and nights[-1].name == "2026-06-30"
    assert rows([nights[0] / "b001.csv"]) == FILE_SHOTS


def test_the_last_night_lies_in_forty_files_where_there_are_forty_bays(tmp_path):
    nights = write_history(tmp_path / "landing", shots=9_000, bays=44, last_night_shots=4_000)
    last = sorted((tmp_path / "landing" / "shots").iterdir())[-1]
    assert nights == 2 and len(list(last.iterdir())) == 40


def test_every_shot_lies_in_a_lesson_of_its_own_student(landing):
    read = {"infer_schema": False}
    lessons = pl.read_csv(landing / "academy" / "lessons.csv", **read)
    file = sorted((landing / "shots").glob("*/b003.csv"))[-1]
    shots = pl.read_csv(file, **read).select(pl.col("struck").str.replace(" ", "T"), "who")
    mine = lessons.filter((pl.col("bay_id") == "b003") & pl.col("starts_at").str.starts_with(file.parent.name))
    held = shots.join_where(mine, pl.col("struck") >= pl.col("starts_at"), pl.col("struck") < pl.col("ends_at"))
    assert held.height == shots.height and (held["who"] == held["student_id"]).all()


def test_drills_lie_inside_their_lessons_in_about_half_of_them(landing):
    read = {"infer_schema": False}
    lessons = pl.read_csv(landing / "academy" / "lessons.csv", **read)
    log = pl.read_csv(landing / "academy" / "drill_log.csv", **read).join(lessons, on="lesson_id", suffix="_lesson")
    assert 0.35 < log.height / lessons.height < 0.6
    assert ((log["starts_at"] > log["starts_at_lesson"]) & (log["ends_at"] < log["ends_at_lesson"])).all()


def test_the_same_seed_writes_the_same_history(landing, tmp_path):
    write_history(tmp_path / "landing", shots=90_001, bays=12, last_night_shots=20_003, seed=3)
    for file in sorted(p for p in landing.rglob("*") if p.is_file()):
        assert (tmp_path / "landing" / file.relative_to(landing)).read_bytes() == file.read_bytes()


def test_an_impossible_last_night_is_refused(tmp_path):
    with pytest.raises(ValueError, match="last night"):
        write_history(tmp_path, shots=10, bays=1, last_night_shots=11)
