"""What practice alone changes a week, where nobody practises alone for a whole term.

Each session that follows a drill-free one, against what the student's earlier sessions led to expect. Sessions without
a drill are often those that looked good, and would fall back by themselves; the best linear prediction from all earlier
sessions allows for that, since the choice rests on what was seen. What earlier drills left behind is a term of its own.
Not here: free practice that lasts a whole span (two_blocks.py), which is preferred where there is any.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

LEAST_STUDENTS = 5
LEAST_STEPS = 20


class Weekly(NamedTuple):
    """Change a week (metric's unit) and its standard error; NaN where there are too few steps."""

    rate: float
    error: float


def sums_so_far(student: Ints, values: Floats) -> Floats:
    """Return the sum of each student's `values` up to and with each entry (n,); sorted by student and day."""
    begins = np.r_[True, student[1:] != student[:-1]]
    at = np.maximum.accumulate(np.where(begins, np.arange(student.size), 0))
    total = np.cumsum(values)
    return total - total[at] + values[at]


def weekly(student: Ints, day: Ints, value: Floats, drilled: Flags, noise: Floats) -> Weekly:
    """Fit the change a week of practice alone.

    Parameters
    ----------
    student, day : arrays (n,)
        Codes and days, sorted by student and day.
    value : array (n,)
        Centres of sessions' first blocks.
    drilled : array (n,)
        Whether a drill was done in the session, after that block.
    noise : array (n,)
        Variance of a session about the student's level: s_b^2 and the block's own.

    Notes
    -----
    With k = c tau^2 / (c tau^2 + noise) after c sessions, next - k mean(so far) is regressed on the same of 1 (the mean
    of all students), of weeks (the change a week) and of drills done so far (what they left behind). tau^2 by moments.
    Errors by student, sandwich with g / (g - 1).
    """
    if student.size < LEAST_STEPS:
        return Weekly(np.nan, np.nan)
    steps = 1 + np.flatnonzero((student[1:] == student[:-1]) & ~drilled[:-1])
    who, group = np.unique(student[steps], return_inverse=True)
    if who.size < LEAST_STUDENTS or steps.size < LEAST_STEPS:
        return Weekly(np.nan, np.nan)
    count = sums_so_far(student, np.ones(student.size))
    done = sums_so_far(student, drilled.astype(np.float64)) - drilled
    tau2 = between_students(student, value, noise)
    k = (count * tau2 / (count * tau2 + noise))[steps - 1]

    def beyond(values: Floats) -> Floats:
        return values[steps] - k * (sums_so_far(student, values) / count)[steps - 1]

    x = np.column_stack([1 - k, beyond((day - day.min()) / 7.0), beyond(done)])
    y = beyond(value)
    inverse = np.linalg.pinv(x.T @ x, hermitian=True)
    beta = inverse @ (x.T @ y)
    residual = y - x @ beta
    scores = np.column_stack([np.bincount(group, x[:, j] * residual) for j in range(x.shape[1])])
    spread = inverse @ (scores.T @ scores) @ inverse * who.size / (who.size - 1)
    return Weekly(float(beta[1]), float(np.sqrt(spread[1, 1])))


def between_students(student: Ints, value: Floats, noise: Floats) -> float:
    """Return the variance of students' levels, by moments of their means; at least a hundredth of the noise."""
    count = np.bincount(student)
    seen = count > 0
    mean = np.bincount(student, value)[seen] / count[seen]
    sampling = np.bincount(student, noise)[seen] / count[seen] ** 2
    return max(float(mean.var(ddof=1) - sampling.mean()), 0.01 * float(noise.mean()))
