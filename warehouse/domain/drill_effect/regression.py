"""The comparison fit and the effect of a drill against it, with its error by students.

The fit is learned from free practice only; an effect is the mean residual of a drill's episodes. Not here: covariates
(covariates.py), verdicts (verdict.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from warehouse.domain.statistics import variance_components
from warehouse.domain.statistics.design_matrix import Terms
from warehouse.domain.statistics.group_codes import distinct, numbered

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Codes = NDArray[np.int64]

ROW_SPACE_TOLERANCE = 1e-6
_RANK_TOLERANCE = 1e-9


class Known(NamedTuple):
    """A term whose size was learned elsewhere: `column` (n,), 0 on the free rows; 1/information and (students,) scores
    of that size."""

    column: Floats
    bread: float
    scores: Floats


@dataclass(frozen=True)
class Fit:
    """Least squares on the free rows, and every row's residual from it.

    `beta` (p,) the coefficients.
    `x` the covariates of all rows, `scale` (p,) what each is divided by here; `bread` is (X'X)^+ of scaled columns,
    `null` the projector on what free practice cannot tell, `scores` the students' summed X_e u_e, (students, p).
    `own` is each row's student's shrunken mean residual on free practice, and `own_x` (students, p) what that mean
    owes to the covariates (student mean of X times the same weight).
    """

    x: Terms
    scale: Floats
    free: Flags
    student: Codes
    residual: Floats
    beta: Floats
    bread: Floats
    null: Floats
    scores: Floats
    own: Floats
    own_x: Floats
    residual_variance: float
    rank: int
    known: Known | None = None


class Effect(NamedTuple):
    """Mean residual of some episodes, its standard error and degrees of freedom; NaN where they cannot be had."""

    effect: float
    error: float
    df: float
    estimable: bool


def with_known_term(of: Fit, size: float, known: Known) -> Fit:
    """Take out a term of known size; the fit itself does not move, as the term is 0 on the free rows."""
    return replace(of, residual=of.residual - size * known.column, known=known)


def fit(x: Terms | Floats, y: Floats, free: Flags, student: Codes, students: int, penalty: Floats | None = None) -> Fit:
    """Fit y on x over the free rows and predict all rows.

    Parameters
    ----------
    x : (n, p). y : (n,). free : (n,) rows to learn from. student : (n,) codes below `students`.
    penalty : (p, p) prior information added to X'X (coach and bay levels shrink to their mean); default none.
    """
    terms = x if isinstance(x, Terms) else Terms(x)
    design, target, who = terms.take(free), y[free], student[free]
    gram = design.gram()
    scale = np.sqrt(np.diag(gram))
    scale = np.where(scale > 0, scale, 1.0)
    gram = gram / np.outer(scale, scale)
    values, vectors = np.linalg.eigh(gram)
    kept = values > _RANK_TOLERANCE * max(float(values.max(initial=0.0)), 1e-300)
    inverse = np.where(kept, 1 / np.where(kept, values, 1.0), 0.0)
    bread = (vectors * inverse) @ vectors.T
    null = vectors[:, ~kept] @ vectors[:, ~kept].T
    if penalty is not None:
        bread = np.linalg.pinv(gram + penalty / np.outer(scale, scale), _RANK_TOLERANCE, hermitian=True)
    beta = bread @ (design.weighted_sum(target) / scale) / scale
    residual = y - terms.times(beta)
    u = residual[free]
    rank = int(kept.sum())
    s2 = float((u**2).sum() / max(u.size - rank, 1))
    parts = variance_components.from_blocks(who, u, np.zeros(u.size))
    s_u2, inner = np.nan_to_num(parts.between_students), np.nan_to_num(parts.between_sessions, nan=s2)
    count = np.bincount(who, minlength=students).astype(np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        weight = np.where(count > 0, s_u2 / (s_u2 + inner / np.maximum(count, 1.0)), 0.0)
    weight = np.nan_to_num(weight) / np.maximum(count, 1.0)
    own = np.bincount(who, u, students) * weight
    scores = design.weighted_by(who, students, u) / scale
    own_x = design.weighted_by(who, students, weight[who]) / scale
    return Fit(terms, scale, free, student, residual, beta, bread, null, scores, own[student], own_x, s2, rank)


def degrees_of_freedom(student: Codes) -> float:
    """min(g - 1, (sum n_s)^2 / sum n_s^2 - 1): students who did the drill, and how evenly they did it."""
    if student.size == 0:
        return 0.0
    n = numbered(student)[2].astype(np.float64)
    return float(min(n.size - 1, n.sum() ** 2 / (n**2).sum() - 1))


def _mean_covariates(of: Fit, rows: Flags | Codes, sign: Floats) -> Floats:
    """(p,) mean of the chosen rows' scaled covariates, each row times its sign."""
    return of.x.take(rows).weighted_sum(sign) / max(sign.size, 1) / of.scale


def _within_row_space(of: Fit, z: Floats) -> bool:
    outside = float(np.linalg.norm(of.null @ z))
    return outside <= ROW_SPACE_TOLERANCE * max(float(np.linalg.norm(z)), 1e-300)


def estimable(of: Fit, rows: Flags | Codes, side: Floats) -> bool:
    """Whether free practice covers the mean covariates of the chosen rows."""
    return _within_row_space(of, _mean_covariates(of, rows, side[rows]))


def effect(
    parts: Sequence[tuple[Fit, Flags | Codes]], side: list[Floats] | None = None, own_control: bool = False
) -> Effect:
    """Effect over the chosen rows of one or several fits (club groups), pooled over episodes.

    Parameters
    ----------
    parts : fits with the rows of the drill in each (flags or places).
    side : per fit (n,) +1 or -1, for distances; default +1.
    own_control : take out the student's own shrunken mean residual on free practice (the check estimator).

    Notes
    -----
    Influence of student s: sum over its chosen rows of (r_e - effect)/n less, for each fit, the mean covariates times
    (X'X)^-1 times its summed X_e u_e; SE^2 = g/(g-1) sum of squares, g students who did the drill.
    """
    if side is None:
        side = [np.ones(part.residual.size) for part, _ in parts]
    signs = [of[rows] for of, (_, rows) in zip(side, parts, strict=True)]
    n = sum(s.size for s in signs)
    if n == 0:
        return Effect(np.nan, np.nan, 0.0, False)
    values, who, told, from_free = [], [], True, np.zeros(parts[0][0].scores.shape[0])
    for (part, rows), s in zip(parts, signs, strict=True):
        r = part.residual[rows] - (part.own[rows] if own_control else 0.0)
        values.append(s * r)
        who.append(part.student[rows])
        z = _mean_covariates(part, rows, s) * (s.size / n)
        told &= _within_row_space(part, z)
        if own_control:
            z = z - np.bincount(part.student[rows], s, len(part.own_x)) @ part.own_x / n
        from_free += part.scores @ (part.bread @ z)
        if part.known is not None:
            from_free += part.known.scores * (part.known.bread * float(s @ part.known.column[rows]) / n)
    value, student = np.concatenate(values), np.concatenate(who)
    mean = float(value.mean())
    g = distinct(student)
    df = degrees_of_freedom(student)
    if not told:
        return Effect(np.nan, np.nan, df, False)
    if g < 2:
        return Effect(mean, np.nan, df, True)
    psi = np.bincount(student, (value - mean) / n, from_free.size) - from_free
    return Effect(mean, float(np.sqrt(g / (g - 1) * (psi**2).sum())), df, True)
