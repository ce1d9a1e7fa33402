"""Bay offsets against planted truth and against what must never change them."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest
from polars.testing import assert_frame_equal

from warehouse.domain.bays import offsets
from warehouse.schema.metrics import METRIC

MONDAY = dt.date(2024, 1, 1)


def draw(seed: int = 0, students: int = 80, bays: int = 6, metric: str = "face_angle", weeks: int = 14) -> pl.DataFrame:
    """Return sessions in the golfer's frame with planted offsets (`true_offset`, in the bay's frame)."""
    rng = np.random.default_rng(seed)
    count = students * weeks
    student = np.repeat(np.arange(students), weeks)
    week = np.tile(np.arange(weeks), students)
    favourite = rng.integers(0, bays, students)
    bay = np.where(rng.random(count) < 0.6, favourite[student], rng.integers(0, bays, count))
    left = rng.random(students) < np.where(favourite < 2, 0.5, 0.05)
    offset = np.linspace(-2, 2, bays)
    shots = rng.integers(5, 30, count)
    sign = np.where(left[student] & METRIC[metric].mirrored, -1.0, 1.0)
    own = rng.normal(0, 3, students)[student] + 0.05 * week + rng.standard_t(4, count) * 0.7
    centre = own + rng.normal(0, 2.5, count) / np.sqrt(shots) + sign * offset[bay]
    return pl.DataFrame(
        {
            "student_id": [f"S{i:03d}" for i in student],
            "handed": np.where(left[student], "left", "right"),
            "club": "driver",
            "bay_id": [f"B{i:02d}" for i in bay],
            "week": [MONDAY + dt.timedelta(days=int(7 * i)) for i in week],
            "metric": metric,
            "shots": shots,
            "centre": centre,
            "variance": 6.25 / shots,
            "true_offset": offset[bay],
        }
    )


def joined(sessions: pl.DataFrame) -> pl.DataFrame:
    truth = sessions.group_by("bay_id").agg(pl.col("true_offset").first())
    return offsets.fit(sessions).join(truth, on="bay_id").sort("bay_id")


@pytest.mark.parametrize("metric", ["face_angle", "attack_angle"])
def test_offsets_come_back_in_the_bays_own_frame_though_left_handers_fill_two_bays(metric: str) -> None:
    found = joined(draw(metric=metric))
    assert np.abs(found["bay_offset"] - found["true_offset"]).max() < 0.35
    assert found["bay_offset"].sum() == pytest.approx(0, abs=1e-9)


def test_error_is_a_small_part_of_the_error_of_raw_bay_means_and_intervals_cover() -> None:
    error, raw_error, covered = [], [], []
    for seed in range(25):
        sessions = draw(seed, students=60)
        found = joined(sessions)
        sign = pl.when(pl.col("handed") == "left").then(-1).otherwise(1)
        raw = sessions.group_by("bay_id").agg((pl.col("centre") * sign).mean()).sort("bay_id")["centre"]
        error += list(found["bay_offset"] - found["true_offset"])
        raw_error += list(raw - raw.mean() - found["true_offset"])
        covered += list(found["true_offset"].is_between(found["ci_low"], found["ci_high"]))
    assert np.sqrt(np.mean(np.square(error)) / np.mean(np.square(raw_error))) < 0.25
    assert 0.89 < np.mean(covered) < 0.99


def test_a_constant_added_to_one_bay_moves_its_offset_and_leaves_differences_of_the_others() -> None:
    sessions = draw(metric="attack_angle")
    shifted = sessions.with_columns(pl.col("centre") + pl.when(pl.col("bay_id") == "B03").then(1.7).otherwise(0.0))
    before, after = joined(sessions)["bay_offset"], joined(shifted)["bay_offset"]
    moved = (after - before).to_numpy()
    assert moved[3] - moved[0] == pytest.approx(1.7)
    assert moved[1] == pytest.approx(moved[0])
    clean = offsets.apply(sessions, offsets.fit(sessions))["centre"]
    clean_shifted = offsets.apply(shifted, offsets.fit(shifted))["centre"]
    assert np.ptp((clean_shifted - clean).to_numpy()) == pytest.approx(0, abs=1e-9)


def test_renaming_students_and_bays_changes_no_offset() -> None:
    sessions = draw()
    renamed = sessions.with_columns(
        pl.col("student_id").str.reverse(), bay_id=pl.concat_str(pl.lit("Z"), pl.col("bay_id"))
    )
    left, right = joined(sessions), joined(renamed)
    columns = ["bay_offset", "ci_low", "ci_high", "overlap_students"]
    assert_frame_equal(left.select(columns), right.select(columns), rel_tol=1e-8)


def test_bays_that_share_no_student_stand_in_sets_of_their_own() -> None:
    near, far = draw(1, students=40, bays=3), draw(2, students=40, bays=3)
    far = far.with_columns(
        bay_id=pl.concat_str(pl.lit("X"), pl.col("bay_id")), student_id=pl.concat_str(pl.lit("X"), pl.col("student_id"))
    )
    alone = near.head(6).with_columns(bay_id=pl.lit("Y01"), student_id=pl.lit("only"))
    found = offsets.fit(pl.concat([near, far, alone]))
    assert found["comparable_set"].to_list() == ["B00"] * 3 + ["XB00"] * 3 + ["Y01"]
    sums = found.group_by("comparable_set").agg(pl.col("bay_offset").sum()).sort("comparable_set")
    assert sums["bay_offset"].to_list()[:2] == pytest.approx([0, 0], abs=1e-9)
    assert found.filter(bay_id="Y01").select("bay_offset", "ci_low", "overlap_students").row(0) == (None, None, 0)


def test_a_recalibration_starts_an_epoch_with_its_own_offset() -> None:
    sessions = draw(metric="attack_angle", students=120)
    on = MONDAY + dt.timedelta(weeks=7)
    later = (pl.col("bay_id") == "B02") & (pl.col("week") >= on)
    sessions = sessions.with_columns(pl.col("centre") + pl.when(later).then(2.0).otherwise(0.0))
    found = offsets.fit(sessions, pl.DataFrame({"bay_id": ["B02"], "on_date": [on]}))
    both = found.filter(bay_id="B02").sort("from_date", nulls_last=False)
    assert both["from_date"].to_list() == [None, on]
    assert both["bay_offset"][1] - both["bay_offset"][0] == pytest.approx(2.0, abs=0.5)
    as_they_read_now = found.sort("from_date", nulls_last=False).group_by("bay_id", maintain_order=True).last()
    assert as_they_read_now["bay_offset"].sum() == pytest.approx(0, abs=1e-9)
    taken_off = offsets.apply(sessions, found)
    removed = sessions["centre"] - taken_off["centre"]
    assert np.abs(removed.filter(sessions.select(later).to_series()) - both["bay_offset"][1]).max() < 1e-9


def test_no_sessions_give_an_empty_frame_with_every_column() -> None:
    assert offsets.fit(draw().head(0)).columns == [*offsets.SCHEMA, "drifting"]
