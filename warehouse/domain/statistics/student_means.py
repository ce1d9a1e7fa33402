"""Means over students, each counting once, with their 95% interval by student. Not here: what a student's number is."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import polars as pl

LEAST_STUDENTS = 5
"""An interval needs this many students."""


def means_by_student(students: pl.DataFrame, group: Sequence[str], numbers: Sequence[str]) -> pl.DataFrame:
    """Return one row a group: `group`, students, and each number's mean with its interval (t, by student).

    Parameters
    ----------
    students : polars.DataFrame
        One row a student and group: `group` and `numbers` (null where the student has none).

    Returns
    -------
    polars.DataFrame
        For each number x the columns x, x_low and x_high; the ends are null under `LEAST_STUDENTS` students that have
        the number.
    """
    from scipy.special import stdtrit

    rows = students.group_by(group, maintain_order=True).agg(
        pl.len().cast(pl.Int64).alias("students"),
        pl.col(numbers).mean(),
        *((pl.col(name).std() / pl.col(name).count().sqrt()).alias(f"{name}_error") for name in numbers),
        *(pl.col(name).count().alias(f"{name}_count") for name in numbers),
    )
    ends = []
    for name in numbers:
        count = rows[f"{name}_count"].to_numpy()
        times = stdtrit(np.maximum(count - 1.0, 1.0), 0.975)
        half = pl.Series(np.where(count < LEAST_STUDENTS, np.nan, times)) * rows[f"{name}_error"]
        ends += [
            (pl.col(name) - half).fill_nan(None).alias(f"{name}_low"),
            (pl.col(name) + half).fill_nan(None).alias(f"{name}_high"),
        ]
    order = [column for name in numbers for column in (name, f"{name}_low", f"{name}_high")]
    return rows.with_columns(ends).select(*group, "students", *order)
