"""The comparison fit and the effect of a drill against it, with its error by students.

The fit is learned from free practice only; an effect is the mean residual of a drill's episodes. Not here: covariates
(covariates.py), verdicts (verdict.py).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from warehouse.domain import variance

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Codes = NDArray[np.int64]

ROW_SPACE_TOLERANCE = 1e-6
_RANK_TOLERANCE = 1e-9


@dataclass(frozen=True)
class Fit:
    """Least squares on the free rows, and every row's residual from it.

    `bread` is (X'X)^+ of scaled columns, `null` the projector on what free practice cannot tell, `scores` the students'
    summed X_e u_e, (students, p). `own` is each row's student's shrunken mean residual on free practice, and
    `own_x` what that mean owes to the covariates (student mean of X times the same weight).
    """

    x: Floats
    free: Flags
    student: Codes
    residual: Floats
    bread: Floats
    null: Floats
    scores: Floats
    own: Floats
    own_x: Floats
    residual_variance: float
    rank: int


class Effect(NamedTuple):
    """Mean residual of some episodes, its standard error and degrees of freedom; NaN where they cannot be had."""

    effect: float
    error: float
    df: float
    estimable: bool


def with_known_term(of: Fit, column: Floats, size: float, bread: float, scores: Floats) -> Fit:
    """Add a term whose size was learned elsewhere, with the influence of that (1/information, scores by student).

    `column` (n,) is 0 on the free rows, so the fit itself does not move.
    """
    rank = of.bread.shape[0]
    wider, nothing = np.zeros((rank + 1, rank + 1)), np.zeros((rank + 1, rank + 1))
    wider[:rank, :rank], wider[rank, rank] = of.bread, bread
    nothing[:rank, :rank] = of.null
    return replace(
        of, x=np.column_stack([of.x, column]), residual=of.residual - size * column, bread=wider, null=nothing,
        scores=np.column_stack([of.scores, scores]), own_x=np.column_stack([of.own_x, np.zeros(column.size)]),
    )  # fmt: skip


def fit(x: Floats, y: Floats, free: Flags, student: Codes, students: int, penalty: Floats | None = None) -> Fit:
    """Fit y on x over the free rows and predict all rows.

    Parameters
    ----------
    x : (n, p). y : (n,). free : (n,) rows to learn from. student : (n,) codes below `students`.
    penalty : (p, p) prior information added to X'X (coach and bay levels shrink to their mean); default none.
    """
    design, target, who = x[free], y[free], student[free]
    scale = np.sqrt((design**2).sum(axis=0))
    scale = np.where(scale > 0, scale, 1.0)
    x = x / scale
    design = design / scale
    values, vectors = np.linalg.eigh(design.T @ design)
    kept = values > _RANK_TOLERANCE * max(float(values.max(initial=0.0)), 1e-300)
    inverse = np.where(kept, 1 / np.where(kept, values, 1.0), 0.0)
    bread = (vectors * inverse) @ vectors.T
    null = vectors[:, ~kept] @ vectors[:, ~kept].T
    if penalty is not None:
        bread = np.linalg.pinv(design.T @ design + penalty / np.outer(scale, scale), _RANK_TOLERANCE, hermitian=True)
    beta = bread @ (design.T @ target)
    residual = y - x @ beta
    u = residual[free]
    rank = int(kept.sum())
    scores = np.zeros((students, x.shape[1]))
    np.add.at(scores, who, design * u[:, None])
    spare = max(u.size - rank, 1)
    s2 = float((u**2).sum() / spare)
    parts = variance.from_blocks(who, u, np.zeros(u.size))
    s_u2, inner = np.nan_to_num(parts.between_students), np.nan_to_num(parts.between_sessions, nan=s2)
    count = np.bincount(who, minlength=students).astype(np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        weight = np.where(count > 0, s_u2 / (s_u2 + inner / np.maximum(count, 1.0)), 0.0)
    weight = np.nan_to_num(weight) / np.maximum(count, 1.0)
    mean_u = np.bincount(who, u, students) * weight
    mean_x = np.zeros((students, x.shape[1]))
    np.add.at(mean_x, who, design)
    own_x = (mean_x * weight[:, None])[student]
    return Fit(x, free, student, residual, bread, null, scores, mean_u[student], own_x, s2, rank)


def degrees_of_freedom(student: Codes) -> float:
    """min(g - 1, (sum n_s)^2 / sum n_s^2 - 1): students who did the drill, and how evenly they did it."""
    n = np.unique(student, return_counts=True)[1].astype(np.float64)
    if n.size == 0:
        return 0.0
    return float(min(n.size - 1, n.sum() ** 2 / (n**2).sum() - 1))


def effect(parts: list[tuple[Fit, Flags]], side: list[Floats] | None = None, own_control: bool = False) -> Effect:
    """Effect over the chosen rows of one or several fits (club groups), pooled over episodes.

    Parameters
    ----------
    parts : fits with the rows of the drill in each.
    side : per fit (n,) +1 or -1, for distances; default +1.
    own_control : take out the student's own shrunken mean residual on free practice (the check estimator).

    Notes
    -----
    Influence of student s: sum over its chosen rows of (r_e - effect)/n less, for each fit, the mean covariates times
    (X'X)^-1 times its summed X_e u_e; SE^2 = g/(g-1) sum of squares, g students who did the drill.
    """
    if side is None:
        side = [np.ones(part.residual.size) for part, _ in parts]
    n = sum(int(rows.sum()) for _, rows in parts)
    if n == 0:
        return Effect(np.nan, np.nan, 0.0, False)
    values, who, estimable, from_free = [], [], True, np.zeros(parts[0][0].scores.shape[0])
    for (part, rows), signs in zip(parts, side, strict=True):
        s = signs[rows]
        r = part.residual[rows] - (part.own[rows] if own_control else 0.0)
        values.append(s * r)
        who.append(part.student[rows])
        z = (s[:, None] * part.x[rows]).sum(axis=0) / n
        outside = float(np.linalg.norm(part.null @ z))
        estimable &= outside <= ROW_SPACE_TOLERANCE * max(float(np.linalg.norm(z)), 1e-300)
        if own_control:
            z = z - (s[:, None] * part.own_x[rows]).sum(axis=0) / n
        from_free += part.scores @ (part.bread @ z)
    value, student = np.concatenate(values), np.concatenate(who)
    mean = float(value.mean())
    g = np.unique(student).size
    df = degrees_of_freedom(student)
    if not estimable:
        return Effect(np.nan, np.nan, df, False)
    if g < 2:
        return Effect(mean, np.nan, df, True)
    psi = np.bincount(student, (value - mean) / n, from_free.size) - from_free
    return Effect(mean, float(np.sqrt(g / (g - 1) * (psi**2).sum())), df, True)
