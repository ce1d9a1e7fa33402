"""Where blocks of shots vary: within a block, between a student's sessions, between students.

Nested analysis of variance by moments, for unequal numbers, vectorised over any number of cells. Not here: what a block
is (blocks.py), or any effect of a drill.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from warehouse.domain.statistics.group_codes import numbered

Floats = NDArray[np.float64]


class Components(NamedTuple):
    """Variance components (unit of the metric, squared).

    `within` s_w^2 shot to shot; `between_sessions` s_b^2; `between_students` tau^2; NaN where the data cannot tell.
    `students`, `sessions`: how many of each they rest on.
    """

    within: float
    between_sessions: float
    between_students: float
    students: int
    sessions: int


def nested(students: ArrayLike, sessions: ArrayLike, values: ArrayLike) -> Components:
    """Fit students > sessions > shots by equating mean squares with their expectations.

    Parameters
    ----------
    students, sessions : (n,) labels; a session belongs to one student.
    values : (n,) shots; NaN is left out.

    Notes
    -----
    Searle, Casella & McCulloch (1992), Variance Components, ch. 5 (nested classification, unbalanced data); negative
    estimates are set to 0.
    """
    y = np.asarray(values, dtype=np.float64)
    keep = np.isfinite(y)
    y = y[keep]
    if y.size == 0:
        return Components(np.nan, np.nan, np.nan, 0, 0)
    student = np.unique(np.asarray(students)[keep], return_inverse=True)[1]
    _, first, session = np.unique(np.asarray(sessions)[keep], return_index=True, return_inverse=True)
    owner = student[first]
    n = np.bincount(session).astype(np.float64)
    mean = np.bincount(session, y) / n
    spare = y.size - n.size
    within = float(((y - mean[session]) ** 2).sum() / spare) if spare > 0 else np.nan
    noise = within / n if spare > 0 else np.full(n.size, np.nan)
    return from_blocks(owner, mean, noise)._replace(within=within)


def from_blocks(
    students: ArrayLike, centres: ArrayLike, variances: ArrayLike, shots: ArrayLike | None = None
) -> Components:
    """Fit students > sessions from session blocks with known error variances.

    Parameters
    ----------
    students : (n,) labels. centres : (n,) one block a session, centred on the club's mean. variances : (n,) error
    variance of each centre. shots : (n,) shots in each block, for s_w^2 (variance x shots, averaged); optional.

    Notes
    -----
    Expectations of the between-session and between-student sums of squares with the known error variances added;
    blocks weigh alike. Negative estimates are 0. With fewer than 2 students tau^2 is NaN, with no student of two
    sessions s_b^2 is NaN.
    """
    y, v = np.asarray(centres, dtype=np.float64), np.asarray(variances, dtype=np.float64)
    keep = np.isfinite(y) & np.isfinite(v)
    y, v = y[keep], v[keep]
    if y.size == 0:
        return Components(np.nan, np.nan, np.nan, 0, 0)
    _, group, often = numbered(np.asarray(students)[keep])
    k = often.astype(np.float64)
    mean, noise = np.bincount(group, y) / k, np.bincount(group, v) / k
    total, groups = float(y.size), k.size
    sessions_free = total - groups
    inner = float(((y - mean[group]) ** 2).sum())
    # E[inner] = (N - G) s_b^2 + sum_i (k_i - 1) vbar_i
    excess = inner - float(((k - 1) * noise).sum())
    between_sessions = max(excess / sessions_free, 0.0) if sessions_free > 0 else np.nan
    tau2 = np.nan
    if groups > 1:
        grand = y.mean()
        outer = float((k * (mean - grand) ** 2).sum())
        s_b2 = 0.0 if np.isnan(between_sessions) else between_sessions
        # E[outer] = tau^2 (N - sum k^2/N) + (G - 1) s_b^2 + sum vbar_i - sum v / N
        expected = (groups - 1) * s_b2 + float(noise.sum()) - float(v.sum()) / total
        tau2 = max((outer - expected) / (total - float((k**2).sum()) / total), 0.0)
    within = np.nan
    if shots is not None:
        n = np.asarray(shots, dtype=np.float64)[keep]
        within = float((v * n * (n - 1)).sum() / (n - 1).sum()) if (n > 1).any() else np.nan
    return Components(within, between_sessions, tau2, groups, int(total))


def reliability(between_sessions: float, error_variance: ArrayLike) -> Floats:
    """Reliability of a block within a student: s_b^2 / (s_b^2 + v), 0 where both are 0."""
    v = np.asarray(error_variance, dtype=np.float64)
    total = between_sessions + v
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(np.where(total > 0, between_sessions / total, np.where(np.isnan(total), np.nan, 0.0)))


def intraclass(scores: ArrayLike) -> tuple[float, float, float]:
    """Intraclass correlations (1,1), (2,1), (3,1) of a targets x judges table.

    Shrout & Fleiss (1979), Psychological Bulletin 86, 420.
    """
    x = np.asarray(scores, dtype=np.float64)
    n, k = x.shape
    rows, columns, grand = x.mean(1), x.mean(0), x.mean()
    between = k * ((rows - grand) ** 2).sum() / (n - 1)
    within = ((x - rows[:, None]) ** 2).sum() / (n * (k - 1))
    judges = n * ((columns - grand) ** 2).sum() / (k - 1)
    error = ((x - rows[:, None] - columns[None, :] + grand) ** 2).sum() / ((n - 1) * (k - 1))
    one = (between - within) / (between + (k - 1) * within)
    two = (between - error) / (between + (k - 1) * error + k * (judges - error) / n)
    three = (between - error) / (between + (k - 1) * error)
    return float(one), float(two), float(three)


def repeatability_sd(first: ArrayLike, second: ArrayLike) -> float:
    """Within-subject SD of single readings from pairs: sqrt(mean(d^2) / 2). Bland & Altman (1986), Lancet i, 307."""
    d = np.asarray(first, dtype=np.float64) - np.asarray(second, dtype=np.float64)
    d = d[np.isfinite(d)]
    return float(np.sqrt((d**2).mean() / 2)) if d.size else float("nan")


def minimal_detectable_change(
    components: Components, sessions: tuple[float, float], shots: tuple[float, float], offset_variance: float = 0.0
) -> float:
    """MDC95 of a change between two pooled blocks: 1.96 sqrt(s_b^2 (1/k1 + 1/k2) + s_w^2 (1/n1 + 1/n2) + offsets)."""
    s_b2, s_w2 = components.between_sessions, components.within
    inner = s_b2 * (1 / sessions[0] + 1 / sessions[1]) + s_w2 * (1 / shots[0] + 1 / shots[1]) + offset_variance
    return float(1.959964 * np.sqrt(inner))
