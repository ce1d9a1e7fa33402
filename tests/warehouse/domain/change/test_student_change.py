"""Single students: who changed beyond noise, who only seems to have."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest
from polars.testing import assert_frame_equal

from warehouse.domain.change import student_change

MONDAY = dt.date(2025, 1, 6)

# Bland & Altman, Lancet 1986;i:307, table 1: peak expiratory flow, Wright meter, two readings a subject (l/min).
# fmt: off
FIRST = (494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427)
SECOND = (490, 397, 512, 401, 470, 611, 415, 431, 638, 429, 420, 633, 275, 492, 165, 372, 421)
# fmt: on


def draw(
    seed: int = 0,
    students: int = 60,
    sessions: int = 12,
    metric: str = "attack_angle",
    moved: float = 0.0,
    trend: float = 0.0,
    level: float = 3.0,
) -> pl.DataFrame:
    """Weekly sessions; every drilled student (half of them) moves by `moved` between the first and the second half."""
    rng = np.random.default_rng(seed)
    student = np.repeat(np.arange(students), sessions)
    week = np.tile(np.arange(sessions), students)
    drilled = (student % 2 == 0) & (week >= 2)
    shots = rng.integers(8, 20, student.size)
    centre = rng.normal(0, level, students)[student] + rng.normal(0, 1, student.size) + trend * week
    centre = centre + rng.normal(0, 2, student.size) / np.sqrt(shots) + moved * (drilled & (week >= sessions // 2))
    monday = [MONDAY + dt.timedelta(weeks=int(w)) for w in week]
    return pl.DataFrame(
        {
            "student_id": [f"S{i:03d}" for i in student],
            "session_id": [f"V{i:03d}-{w:02d}" for i, w in zip(student, week, strict=True)],
            "day": [one + dt.timedelta(days=2) for one in monday],
            "week": monday,
            "club": "driver",
            "club_group": "driver",
            "bay_id": [f"B{w % 3}" for w in week],
            "metric": metric,
            "shots": shots,
            "centre": centre,
            "variance": 4.0 / shots,
            "drilled": drilled,
        }
    )


def test_detectable_change_is_the_published_repeatability() -> None:
    # Repeatability SD 15.3 l/min, so 1.96 sqrt(2) 15.3 = 42.4; the paper rounds 1.96 up to 2: coefficient 43.2.
    subjects = len(FIRST)
    frame = pl.DataFrame(
        {
            "student_id": [f"S{i:02d}" for i in range(subjects)] * 2,
            "session_id": [f"V{i}" for i in range(2 * subjects)],
            "day": [MONDAY] * subjects + [MONDAY + dt.timedelta(7)] * subjects,
            "week": [MONDAY] * subjects + [MONDAY + dt.timedelta(7)] * subjects,
            "club": "driver",
            "club_group": "driver",
            "bay_id": "B0",
            "metric": "carry",
            "shots": 5,
            "centre": [float(value) for value in FIRST + SECOND],
            "variance": 0.0,
            "drilled": False,
        }
    )
    found = student_change.student_change(frame)
    assert found["minimal_detectable_change"][0] == pytest.approx(43.2 * 1.96 / 2, abs=0.15)
    assert found.height == subjects
    assert found["change"].mean() == pytest.approx(np.mean(SECOND) - np.mean(FIRST))


def test_without_change_one_in_twenty_is_beyond_and_false_discovery_control_lists_next_to_none() -> None:
    found = pl.concat([student_change.student_change(draw(seed)) for seed in range(20)])
    assert 0.03 < found["beyond"].mean() < 0.075
    assert (found["q_value"] <= 0.05).mean() < 0.01
    assert 0.93 < found.select(pl.lit(0.0).is_between("ci_low", "ci_high")).to_series().mean() < 0.97


def test_a_trend_of_everybody_is_expected_and_nobody_is_beyond_for_it() -> None:
    found = student_change.student_change(draw(trend=0.4))
    assert found["change"].mean() == pytest.approx(0.4 * 9, abs=0.3)
    assert found["expected_change"].mean() == pytest.approx(0.4 * 9, abs=0.5)
    assert found["beyond"].mean() < 0.15


def test_those_who_moved_are_listed_and_those_who_did_not_are_not() -> None:
    found = student_change.student_change(draw(moved=4.0)).with_columns(
        drilled=pl.col("student_id").str.slice(1).cast(pl.Int64) % 2 == 0
    )
    listed = found.filter(pl.col("q_value") <= 0.05)
    assert listed.filter("drilled").height > 25
    assert listed.filter(~pl.col("drilled")).height <= 3


@pytest.mark.parametrize("level", [0.3, 3.0])
def test_distance_brings_no_improvement_out_of_noise_however_near_the_target(level: float) -> None:
    found = pl.concat(
        [student_change.student_change(draw(seed, metric="face_angle", level=level)) for seed in range(10)]
    )
    distance = found.filter(measure="distance")
    assert abs(distance["change"].mean()) < 3 * distance["change"].std() / np.sqrt(distance.height)
    assert set(found["measure"]) == {"centre", "distance"}


def test_students_brought_in_from_both_sides_show_in_distance_and_cancel_in_the_centre() -> None:
    frame = draw(metric="face_angle", level=4.0)
    late = pl.col("week") >= MONDAY + dt.timedelta(weeks=6)
    side = pl.col("centre").filter(~late).mean().over("student_id").sign()
    found = student_change.student_change(
        frame.with_columns(pl.col("centre") - pl.when(late).then(1.5 * side).otherwise(0))
    )
    means = found.group_by("measure").agg(pl.col("change").mean()).sort("measure")["change"]
    assert abs(means[0]) < 0.5
    assert means[1] == pytest.approx(-1.3, abs=0.5)


def test_blocks_across_a_new_club_are_not_compared() -> None:
    frame = draw()
    on = MONDAY + dt.timedelta(weeks=8)
    events = pl.DataFrame({"student_id": ["S001"], "club": [None], "bay_id": [None], "on_date": [on]})
    found = student_change.student_change(frame, events=events)
    mine = found.filter(student_id="S001")
    assert mine["first_week"][0] >= on
    assert mine["first_sessions"][0] == 2
    after_all = events.with_columns(on_date=pl.lit(MONDAY + dt.timedelta(weeks=30)))
    assert student_change.student_change(frame, events=after_all).filter(student_id="S001")["first_week"][0] == MONDAY


def test_uncertain_bays_widen_the_interval_of_those_who_changed_bays() -> None:
    frame = draw(sessions=6)
    offsets = pl.DataFrame({"bay_id": ["B0", "B1", "B2"], "metric": "attack_angle", "standard_error": [0.0, 0.0, 2.0],
                            "from_date": [None] * 3}, schema_overrides={"from_date": pl.Date})  # fmt: skip
    moved = frame.with_columns(bay_id=pl.when(pl.col("week") > MONDAY).then(pl.lit("B2")).otherwise(pl.lit("B0")))
    same = frame.with_columns(bay_id=pl.lit("B2"))
    plain = student_change.student_change(same, offsets=offsets)["minimal_detectable_change"]
    wide = student_change.student_change(moved, offsets=offsets)["minimal_detectable_change"]
    assert (wide > plain).all()
    assert plain.to_list() == pytest.approx(student_change.student_change(same)["minimal_detectable_change"].to_list())


def test_two_clubs_of_a_group_are_brought_to_one_level() -> None:
    frame = draw().with_columns(club_group=pl.lit("iron"), club=pl.lit("iron-7"))
    longer = frame.with_columns(
        club=pl.when(pl.col("week").dt.week() % 2 == 0).then(pl.lit("iron-4")).otherwise(pl.lit("iron-7"))
    ).with_columns(pl.col("centre") + pl.when(pl.col("club") == "iron-4").then(5.0).otherwise(0.0))
    one, two = student_change.student_change(frame), student_change.student_change(longer)
    assert np.abs((two["change"] - one["change"]).to_numpy()).max() < 0.5


def test_renaming_students_changes_nothing() -> None:
    frame = draw(moved=2.0)
    renamed = frame.with_columns(pl.col("student_id").str.reverse())
    left = student_change.student_change(frame).with_columns(pl.col("student_id").str.reverse()).sort("student_id")
    assert_frame_equal(left, student_change.student_change(renamed).sort("student_id"), rel_tol=1e-9)


def test_a_club_with_which_nobody_came_twice_leaves_the_other_as_it_is() -> None:
    # The least that a young academy has: two sessions with one club, one with another.
    rows = draw(students=3)
    lone = rows.unique("student_id", keep="first", maintain_order=True).with_columns(
        pl.lit("iron").alias("club_group"), pl.lit("iron 7").alias("club")
    )
    alone, beside = student_change.student_change(rows), student_change.student_change(pl.concat([lone, rows]))
    assert alone.height > 0 and beside.equals(alone)
    assert student_change.student_change(lone).is_empty() and student_change.student_change(lone).schema == alone.schema


def test_no_blocks_give_an_empty_frame_with_every_column() -> None:
    assert student_change.student_change(draw().head(0)).columns == list(student_change.SCHEMA)
