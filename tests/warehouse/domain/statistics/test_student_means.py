"""Means over students with intervals by student, against a published worked example and scipy."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from scipy import stats

from warehouse.domain.statistics.student_means import means_by_student


def test_the_interval_is_students_t_on_the_data_he_published():
    # Student 1908, Biometrika 6: additional hours of sleep on the second drug, ten patients: mean 2.33, SD 2.002
    # (n - 1), t(9) .975 = 2.262, so 0.90 to 3.76.
    hours = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]
    row = means_by_student(pl.DataFrame({"g": "b", "hours": hours}), ["g"], ["hours"]).row(0, named=True)
    assert row == pytest.approx(
        {"g": "b", "students": 10, "hours": 2.33, "hours_low": 0.898, "hours_high": 3.762}, abs=1e-3
    )


def test_each_group_and_number_has_its_own_interval_and_missing_students_count_for_neither():
    rng = np.random.default_rng(3)
    values = rng.normal(size=12)
    frame = pl.DataFrame({"g": ["a"] * 7 + ["b"] * 5, "x": values, "y": [None, *values[1:]]})
    rows = means_by_student(frame, ["g"], ["x", "y"]).sort("g")
    for group, name, held in (("a", "x", values[:7]), ("a", "y", values[1:7]), ("b", "x", values[7:])):
        low, high = stats.t.interval(0.95, held.size - 1, held.mean(), stats.sem(held))
        row = rows.filter(pl.col("g") == group).row(0, named=True)
        assert (row[name], row[f"{name}_low"], row[f"{name}_high"]) == pytest.approx((held.mean(), low, high))


def test_under_five_students_there_is_a_mean_and_no_interval():
    row = means_by_student(pl.DataFrame({"g": "a", "x": [1.0, 2.0, 3.0, 4.0]}), ["g"], ["x"]).row(0, named=True)
    assert row == {"g": "a", "students": 4, "x": 2.5, "x_low": None, "x_high": None}
