"""Changes of set-up against changes of delivery: slope, error by student, and what is said of it."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
from polars.testing import assert_frame_equal
from scipy import stats

from warehouse.domain.change import setup_association


def pairs(seed: int, students: int = 30, most: int = 4, slope: float = 0.0, own: float = 1.0) -> pl.DataFrame:
    """Pairs of several students; each student's changes share a part (`own`) that has nothing to do with the set-up."""
    rng = np.random.default_rng(seed)
    student = np.repeat(np.arange(students), rng.integers(1, most + 1, students))
    seen = rng.normal(0, 3, student.size) + rng.normal(0, 2, students)[student]
    moved = slope * seen + 0.3 + rng.normal(0, own, students)[student] + rng.normal(0, 1, student.size)
    return pl.DataFrame(
        {"measure": "stance width", "unit": "cm", "metric": "attack_angle", "club_group": "driver",
         "student_id": [f"S{one:03d}" for one in student], "seen_change": seen, "metric_change": moved}
    )  # fmt: skip


def columns(frame: pl.DataFrame) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return both changes, and the students as whole numbers."""
    code = frame["student_id"].rank("dense").to_numpy().astype(np.int64) - 1
    return frame["seen_change"].to_numpy(), frame["metric_change"].to_numpy(), code


def test_slope_and_rank_correlation_are_those_of_scipy() -> None:
    frame = pairs(1, slope=0.2)
    seen, moved, _ = columns(frame)
    row = setup_association.of_changes(frame).row(0, named=True)
    assert row["slope"] == pytest.approx(stats.linregress(seen, moved).slope, rel=1e-12)
    assert row["rank_correlation"] == pytest.approx(stats.spearmanr(seen, moved).statistic, rel=1e-12)
    assert row["typical_change"] == pytest.approx(np.median(np.abs(seen)))


def test_with_one_pair_a_student_the_error_is_statsmodels_hc2() -> None:
    # Clusters of one: CR2 is HC2 (MacKinnon & White 1985), as Pustejovsky & Tipton (2018) note.
    import statsmodels.api as sm

    seen, moved, code = columns(pairs(2, students=40, most=1, slope=0.1))
    reference = sm.OLS(moved, sm.add_constant(seen)).fit(cov_type="HC2")
    slope, variance, _ = setup_association.slope_by_student(seen, moved, code)
    assert slope == pytest.approx(reference.params[1], rel=1e-10)
    assert np.sqrt(variance) == pytest.approx(reference.bse[1], rel=1e-8)


def test_the_error_by_student_is_the_formula_of_bell_and_mccaffrey_written_out() -> None:
    # Bell & McCaffrey (2002): sum over clusters of X_s' (I - H_ss)^(-1/2) u_s, in full matrices.
    from scipy.linalg import fractional_matrix_power

    seen, moved, code = columns(pairs(3, students=12))
    x = np.column_stack([np.ones(seen.size), seen])
    inverse = np.linalg.inv(x.T @ x)
    residual = moved - x @ inverse @ x.T @ moved
    meat = np.zeros((2, 2))
    for one in range(code.max() + 1):
        mine = code == one
        own = np.eye(mine.sum()) - x[mine] @ inverse @ x[mine].T
        score = x[mine].T @ np.real(fractional_matrix_power(own, -0.5)) @ residual[mine]
        meat += np.outer(score, score)
    expected = (inverse @ meat @ inverse)[1, 1]
    assert setup_association.slope_by_student(seen, moved, code)[1] == pytest.approx(expected, rel=1e-6)


def test_the_interval_covers_the_truth_where_students_differ_and_pairs_are_few() -> None:
    found = pl.concat([setup_association.of_changes(pairs(seed, students=12, slope=0.2)) for seed in range(400)])
    covered = found.select(pl.lit(0.2).is_between("slope_low", "slope_high")).to_series().mean()
    assert 0.92 < covered < 0.985


def test_without_association_next_to_none_is_called_one() -> None:
    frames = [
        pairs(seed).with_columns(measure=pl.lit(f"measure {seed % 5}"), metric=pl.lit(f"number {seed // 5}"))
        for seed in range(200)
    ]
    called = [
        (setup_association.of_changes(pl.concat(frames[first : first + 20]))["finding"] == "goes with").sum()
        for first in range(0, 200, 20)
    ]
    assert sum(called) <= 2


def test_a_true_association_is_found() -> None:
    row = setup_association.of_changes(pairs(7, slope=0.6)).row(0, named=True)
    assert row["finding"] == "goes with"
    assert row["slope_low"] < 0.6 < row["slope_high"]


def test_too_few_students_or_pairs_are_said_to_be_too_few() -> None:
    few_students = setup_association.of_changes(pairs(1, students=9, most=6, slope=2.0)).row(0, named=True)
    few_pairs = setup_association.of_changes(pairs(1, students=12, most=1, slope=2.0)).row(0, named=True)
    assert (few_students["finding"], few_pairs["finding"]) == ("too few", "too few")
    assert few_students["slope_low"] is not None
    fewer = setup_association.of_changes(pairs(1, students=4)).row(0, named=True)
    assert fewer["slope"] is None


def test_a_set_up_never_changed_has_no_slope() -> None:
    row = setup_association.of_changes(pairs(1).with_columns(seen_change=pl.lit(0.0))).row(0, named=True)
    assert (row["slope"], row["typical_change"], row["finding"]) == (None, None, "too few")


def test_names_and_the_order_of_rows_change_nothing() -> None:
    frame = pairs(4, slope=0.3)
    renamed = frame.with_columns(pl.col("student_id").str.reverse()).sample(fraction=1.0, shuffle=True, seed=1)
    assert_frame_equal(setup_association.of_changes(frame), setup_association.of_changes(renamed), rel_tol=1e-9)


def test_no_pairs_give_an_empty_frame_with_every_column() -> None:
    assert setup_association.of_changes(pairs(1).head(0)).columns == list(setup_association.SCHEMA)
