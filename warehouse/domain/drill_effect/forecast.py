"""What a drill would probably do for one student next time, with an 80% prediction interval.

Expected = shrunk drill mean + shrunk slope on the student's gap to the aim + the student's own shrunken deviation.
Not here: whether a drill works (drill_effect.py); this predicts one episode, noise and all.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from warehouse.domain.drill_effect import aims, conformal, responders
from warehouse.domain.drill_effect.aims import Aim, oriented
from warehouse.domain.drill_effect.drill import Matters
from warehouse.domain.drill_effect.episodes import Panel, level
from warehouse.domain.drill_effect.headline import estimate
from warehouse.domain.statistics import partial_pooling, variance_components
from warehouse.domain.statistics.group_codes import distinct, numbered

Floats = NDArray[np.float64]

SCHEMA: dict[str, Any] = {
    "student_id": pl.String, "drill_id": pl.String, "metric": pl.String, "club_group": pl.String,
    "expected_effect": pl.Float64, "interval_low": pl.Float64, "interval_high": pl.Float64, "measure": pl.String,
    "episodes": pl.Int64, "gap": pl.Float64, "free_practice_change": pl.Float64, "reason": pl.String,
    "past_forecasts": pl.Int64, "past_held_share": pl.Float64,
}  # fmt: skip
"""Columns of mart.drill_forecast (the first 7) with what stands beside them; `reason` where there is no number."""

CONFIDENCE = 0.80
BLOCK_SHOTS = 15
_PRIOR_STUDENTS = 20.0


@dataclass(frozen=True)
class Prior:
    """A drill's mean, its slope on the gap, variance between students and of one episode; up is better."""

    mean: float
    mean_variance: float
    slope: float
    slope_variance: float
    gap_mean: float
    between: float
    noise: float
    df: float


@dataclass(frozen=True)
class Now:
    """Students with blocks of a club group today: code, level against the aim's side, own variance of one shot."""

    student: NDArray[np.int64]
    gap: Floats
    shot_variance: Floats
    free_change: Floats


def _gap(usual: Floats, m: Floats, aim: Aim) -> Floats:
    """How far from the aim: distance to a target, else how far below (raise) or above (lower) the club's mean."""
    if aim.target is None:
        return -aim.orientation * m
    return np.abs(usual - aim.target)


def episode_gaps(aim: Aim) -> Floats:
    """How far from the aim the student usually was, one entry an episode, in the order of `aims.oriented`."""
    return np.concatenate([_gap(p.of.state.usual, p.of.state.m, aim)[p.rows] for p in aim.parts])


def _slope(aim: Aim) -> tuple[float, float]:
    """Slope of the residual on the gap and its variance, errors summed by student; NaN when it cannot be told."""
    value, student = oriented(aim)
    gap = episode_gaps(aim)
    centred = gap - gap.mean()
    room = float((centred**2).sum())
    students = distinct(student)
    if students < partial_pooling.MIN_STUDENTS or room <= 1e-12:
        return np.nan, np.nan
    slope = float((centred * value).sum()) / room
    psi = np.bincount(student, centred * (value - value.mean() - slope * centred)) / room
    return slope, float((psi**2).sum()) * students / (students - 2)


def _noise(aim: Aim) -> float:
    """Variance of one episode's residual within a student, on free practice."""
    u = np.concatenate([p.fitted.residual[p.fitted.free] for p in aim.parts])
    who = np.concatenate([p.fitted.student[p.fitted.free] for p in aim.parts])
    within = variance_components.from_blocks(who, u, np.zeros(u.size)).between_sessions
    return float(within) if np.isfinite(within) else float(u.var())


def _reach(aim: Aim) -> float:
    """How many standard deviations hold 80% of free practice's residuals; between a Laplace's and a uniform's."""
    u = np.concatenate([p.fitted.residual[p.fitted.free] for p in aim.parts])
    scale = float(np.sqrt((u**2).mean()))
    return float(np.clip(np.quantile(np.abs(u), CONFIDENCE) / scale, 0.9, 1.4)) if scale > 0 else 1.2816


def _between(aim: Aim, noise: float, slope: float) -> tuple[float, float]:
    """Variance of students' true responses about the slope line, and the number of students it rests on."""
    value, student = oriented(aim)
    gap = episode_gaps(aim)
    value = value - slope * (gap - gap.mean())
    _, back, n = numbered(student)
    own = np.bincount(back, value) / n
    return responders.between_variance(own, n.astype(np.float64), noise), float(n.size)


def _priors(ready: list[Aim], effects: pl.DataFrame) -> list[Prior]:
    """Shrink slopes and between-student variances over the aims of one metric, in its smallest changes."""
    slopes = np.array([_slope(a) for a in ready]).reshape(-1, 2)
    known = np.isfinite(slopes).all(axis=1) & (slopes[:, 1] > 0)
    carried = partial_pooling.posterior(slopes[known, 0], slopes[known, 1], scale=0.3) if known.any() else None
    noise = [_noise(a) for a in ready]
    shrunk = [partial_pooling.shrink_carried(s[0], s[1], carried) if carried else (0.0, 0.0) for s in slopes]
    between = np.array([_between(a, n, s[0]) for a, n, s in zip(ready, noise, shrunk, strict=True)]).reshape(-1, 2)
    common = float((between[:, 0] * between[:, 1]).sum() / max(between[:, 1].sum(), 1.0))
    out = []
    for aim, n, (slope, deviation), (own, students) in zip(ready, noise, shrunk, between, strict=True):
        mean, mean_variance, df = _mean(aim, effects)
        s_u2 = (own * students + common * _PRIOR_STUDENTS) / (students + _PRIOR_STUDENTS)
        gap = float(episode_gaps(aim).mean())
        out.append(Prior(mean, mean_variance, slope, deviation**2, gap, max(float(s_u2), 0.0), n, df))
    return out


def _mean(aim: Aim, effects: pl.DataFrame) -> tuple[float, float, float]:
    """The drill's shrunk mean (up is better), its variance and degrees of freedom, from the table of effects."""
    from scipy.special import stdtrit

    row = effects.filter(
        (pl.col("drill_id") == aim.drill.drill_id) & (pl.col("metric") == aim.metric)
        & (pl.col("measure") == aim.measure) & (pl.col("club_group") == aim.club_group)
        & (pl.col("horizon") == aim.horizon)
    )  # fmt: skip
    if row.is_empty() or row["shrunk_effect"][0] is None:
        return np.nan, np.nan, 0.0
    df = max(float(row["df"][0] or 1.0), 1.0)
    half = (row["shrunk_high"][0] - row["shrunk_low"][0]) / 2
    return aim.orientation * row["shrunk_effect"][0], float((half / stdtrit(df, 0.975)) ** 2), df


def _now(rows: Panel, aim: Aim, students: int) -> Now:
    """Levels, spreads and expected free change of every student with a block of the aim's club group."""
    here = rows.take((rows.group == aim.club_group) & np.isfinite(rows.centre[0]) & (rows.student >= 0))
    state = level(here, here.centre[0], here.variance[0])
    first = here.first if here.first.any() else np.ones(here.first.size, dtype=bool)
    who = np.unique(here.student)
    k = np.bincount(here.student[first], minlength=students)[who].astype(np.float64)
    total = np.bincount(here.student[first], (here.centre[0] - state.club_mean)[first], students)[who]
    mean_club = np.bincount(here.student, state.club_mean, students)[who] / np.bincount(here.student)[who]
    fit = state.components
    tau2, s_b2 = np.nan_to_num(fit.between_students), np.nan_to_num(fit.between_sessions)
    vbar = float(np.nanmean(here.variance[0]))
    with np.errstate(invalid="ignore", divide="ignore"):
        own = np.where(k > 0, total / k, 0.0)
        m = np.nan_to_num(own * tau2 / (tau2 + (s_b2 + vbar) / np.maximum(k, 1)))
    shot = here.variance[0] * here.shots[0]
    weight = np.maximum(here.shots[0] - 1, 0)
    spread = np.bincount(here.student, shot * weight, students)[who] / np.bincount(here.student, weight, students)[who]
    return Now(who, _gap(m + mean_club, m, aim), spread, _free_change(aim, students)[who])


def _free_change(aim: Aim, students: int) -> Floats:
    """What free practice alone is expected to change at the student's own past sessions; the group's mean elsewhere."""
    part = aim.parts[0]
    known = np.isfinite(part.side)
    change = (part.side * (part.of.after - part.of.before - part.fitted.residual))[known]
    student = part.of.rows.student[known]
    n = np.bincount(student, minlength=students)
    with np.errstate(invalid="ignore"):
        own = np.bincount(student, change, students) / n
    return np.where(n > 0, own, change.mean() if change.size else np.nan)


def _half_width(aim: Aim, prior: Prior, kept: Floats, away: Floats, shots: Floats) -> Floats:
    """Half-width of 80% intervals before the academy's own record is asked.

    Parameters
    ----------
    kept : weight of the student's own episodes. away : gap less the mean gap. shots : error variance of the block
        after.
    """
    from scipy.special import stdtrit

    after = aim.parts[0].of.rows.variance[1][aim.parts[0].fitted.free]
    drift = max(prior.noise - float(np.nanmean(after)), 0.0)
    noise = np.maximum(drift + shots, 0.25 * prior.noise)
    parameters = (1 - kept) ** 2 * prior.mean_variance + away**2 * prior.slope_variance
    spread = np.sqrt(parameters + prior.between * (1 - kept) + noise)
    # Residuals have longer tails than a normal, so eight in ten lie closer in than 1.28 standard deviations.
    share = noise / spread**2
    return (share * _reach(aim) + (1 - share) * float(stdtrit(max(prior.df, 3.0), 0.5 + CONFIDENCE / 2))) * spread


def _past(aim: Aim, prior: Prior) -> Floats:
    """Each past episode's distance from what was to be expected of it by then, over the half-width it was given."""
    value, student = oriented(aim)
    day = np.concatenate([p.of.rows.day[p.rows] for p in aim.parts])
    balls = np.concatenate([p.of.rows.shots[1][p.rows] for p in aim.parts])
    variance = np.concatenate([p.of.rows.variance[1][p.rows] for p in aim.parts])
    # One block's own variance is too noisy to judge it by.
    shots = float((variance * balls).mean()) / balls
    away = episode_gaps(aim) - prior.gap_mean
    line = prior.mean + prior.slope * away
    n, own = conformal.earlier(value - line, student, day)
    kept = np.where(n > 0, prior.between / (prior.between + prior.noise / np.maximum(n, 1.0)), 0.0)
    return np.abs(value - line - kept * own) / _half_width(aim, prior, kept, away, shots)


def _rows(aim: Aim, prior: Prior, rows: Panel, ids: list[str], past: Floats, factor: float) -> pl.DataFrame:
    """Forecasts of one drill and club group for all its students, as wide as past ones should have been."""
    now = _now(rows, aim, len(ids))
    value, student = oriented(aim)
    own_n = np.bincount(student, minlength=len(ids))
    lean = value - prior.mean - prior.slope * (episode_gaps(aim) - prior.gap_mean)
    own = np.bincount(student, lean, len(ids)) / np.maximum(own_n, 1)
    kept = prior.between / (prior.between + prior.noise / np.maximum(own_n, 1))
    kept = np.where(own_n > 0, kept, 0.0)[now.student]
    away = now.gap - prior.gap_mean
    expected = prior.mean + prior.slope * away + kept * own[now.student]
    half = factor * _half_width(aim, prior, kept, away, now.shot_variance / BLOCK_SHOTS)
    at = aim.orientation * expected
    return pl.DataFrame(
        {
            "student_id": [ids[i] for i in now.student], "drill_id": aim.drill.drill_id, "metric": aim.metric,
            "club_group": aim.club_group, "expected_effect": at, "interval_low": at - half, "interval_high": at + half,
            "measure": aim.measure, "episodes": own_n[now.student], "gap": now.gap,
            "free_practice_change": now.free_change, "reason": None, "past_forecasts": past.size,
            "past_held_share": float((past <= factor).mean()) if past.size else None,
        },
        schema=SCHEMA,
    )  # fmt: skip


def forecast(
    episodes: pl.DataFrame, effects: pl.DataFrame | None = None, *, metrics: pl.DataFrame | Matters | None = None
) -> pl.DataFrame:
    """Forecast every drill's aim for every student with blocks of its club group, students new to the drill included.

    Parameters
    ----------
    episodes, metrics : as of `warehouse.domain.drill_effect.estimate`.
    effects : its answer for the same episodes; computed when left out.

    Returns
    -------
    polars.DataFrame
        `SCHEMA`: the next episode's change beyond free practice, canonical unit, signed as the measure is, with an 80%
        prediction interval; club group rows only.
    """
    if effects is None:
        effects = estimate(episodes, metrics=metrics)
    read = aims.read(episodes, metrics)
    frames, known = [pl.DataFrame(schema=SCHEMA)], []
    for metric, rows in read.rows.items():
        mine = [a for a in read.aims if a.metric == metric]
        ready = [a for a in mine if a.parts and a.orientation]
        for aim, prior in zip(ready, _priors(ready, effects), strict=True):
            if np.isfinite(prior.mean):
                known.append((aim, prior, rows, _past(aim, prior)))
            else:
                frames.append(_without(aim, rows, read.student_ids, "too few students have done this drill"))
        frames += [_without(a, rows, read.student_ids, a.reason) for a in mine if a not in ready]
    # One record for the academy: a single drill's tells too little of how often its forecasts hold.
    factor = conformal.factor(np.concatenate([np.zeros(0), *(past for *_, past in known)]), CONFIDENCE)
    frames += [_rows(aim, prior, rows, read.student_ids, past, factor) for aim, prior, rows, past in known]
    whole = pl.concat(frames).with_columns(pl.col(pl.Float64).fill_nan(None))
    return whole.sort("student_id", "drill_id", "club_group")


def _without(aim: Aim, rows: Panel, ids: list[str], reason: str) -> pl.DataFrame:
    """Rows that say why there is no number."""
    here = (rows.group == aim.club_group) & np.isfinite(rows.centre[0]) & (rows.student >= 0)
    return pl.DataFrame(
        [
            {"student_id": ids[i], "drill_id": aim.drill.drill_id, "metric": aim.metric, "club_group": aim.club_group,
             "measure": aim.measure, "reason": reason or "nothing to compare with"}
            for i in np.unique(rows.student[here])
        ],
        schema=SCHEMA,
    )  # fmt: skip
