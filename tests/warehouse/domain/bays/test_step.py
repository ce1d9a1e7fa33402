"""A device that changed without a word, on sessions drawn here with the day of the change known."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from warehouse.domain.bays import offsets, step

METRICS = {"face_angle": 2.0, "club_path": 1.5, "ball_speed": 1.0, "carry": 5.0}
MONDAY = dt.date(2024, 1, 1)
CHANGED = MONDAY + dt.timedelta(days=57)


def draw(seed: int, jump: float = 0.0, ramp: float = 0.0) -> pl.DataFrame:
    """Sessions of 90 students over 16 weeks in five bays; bay B2 jumps on a day, or wanders, by so many units."""
    rng = np.random.default_rng(seed)
    n, students = 2200, 90
    student, day = rng.integers(0, students, n), np.sort(rng.integers(0, 112, n))
    bay = np.where(rng.random(n) < 0.5, student % 5, rng.integers(0, 5, n))
    form, level = rng.normal(size=n), rng.normal(size=students)
    frames = []
    for name, unit in METRICS.items():
        moved = (bay == 2) * unit * (jump * (day >= 57) + ramp * day / 112)
        centre = (1.5 * level[student] + 0.5 * form + rng.standard_t(4, n) * 0.7 + 0.3 * (bay - 2) + 0.01 * day) * unit
        frames.append(
            pl.DataFrame(
                {"student_id": [f"S{i:03d}" for i in student], "handed": "right", "club": "driver",
                 "bay_id": [f"B{b}" for b in bay], "day": [MONDAY + dt.timedelta(days=int(d)) for d in day],
                 "week": [MONDAY + dt.timedelta(days=int(d // 7 * 7)) for d in day], "metric": name,
                 "shots": 15, "centre": centre + moved, "variance": 0.2 * unit**2}
            )
        )  # fmt: skip
    return pl.concat(frames)


@pytest.mark.parametrize("seed", range(4))
def test_a_jump_is_found_in_its_bay_within_two_days_and_none_elsewhere(seed: int) -> None:
    found = step.find(draw(seed, jump=1.0))
    assert found["bay_id"].to_list() == ["B2"]
    assert abs((found["on_date"][0] - CHANGED).days) <= 2
    assert found["metrics"][0] >= 2


def test_where_nothing_jumps_and_where_a_bay_wanders_slowly_nothing_is_found() -> None:
    for seed in range(8):
        assert step.find(draw(seed)).is_empty()
        assert step.find(draw(seed, ramp=1.5)).is_empty()


def test_with_the_step_taken_as_a_recalibration_offsets_before_and_after_come_back() -> None:
    sessions = draw(9, jump=1.5)
    fitted = offsets.fit_offsets(sessions, step.find(sessions).select("bay_id", "on_date"))
    of = fitted.filter(bay_id="B2", metric="face_angle").sort("from_date", nulls_last=False)["bay_offset"]
    # Drawn .3 x (bay - 2) of a unit of 2 deg and 1.5 more after: each bay counts once in the zero, by its last stretch.
    assert of[1] - of[0] == pytest.approx(3.0, abs=0.5)
    without = offsets.fit_offsets(sessions).filter(bay_id="B2", metric="face_angle")["bay_offset"][0]
    assert abs(without - of[1]) > 0.5


def test_a_known_recalibration_on_that_day_leaves_nothing_to_find() -> None:
    event = pl.DataFrame({"bay_id": ["B2"], "on_date": [CHANGED]})
    assert step.find(draw(1, jump=1.0), event).is_empty()
