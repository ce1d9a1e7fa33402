"""Who responds to a drill, beside how many luck alone would list.

The student's response is the drill's mean plus a shrunken own deviation (best linear unbiased prediction). Nobody is
called a non-responder. Not here: the drill's mean effect (influence.py), forecasts (forecast.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from warehouse.domain.drill_effect import regression
from warehouse.domain.statistics import variance_components
from warehouse.domain.statistics.group_codes import numbered

if TYPE_CHECKING:
    from warehouse.domain.drill_effect.drill import Matters, Part

Floats = NDArray[np.float64]
Codes = NDArray[np.int64]

MIN_EPISODES = 2
SURE = 0.90


@dataclass(frozen=True)
class Responses:
    """One entry a student, oriented so that up is better: code, episodes, response (BLUP), its standard deviation."""

    student: Codes
    episodes: Codes
    response: Floats
    deviation: Floats
    between: float
    noise: float

    def probability(self, size: float) -> Floats:
        """P(response > size) under a normal response."""
        from scipy.special import ndtr

        return np.asarray(ndtr((self.response - size) / np.where(self.deviation > 0, self.deviation, 1e-12)))


def respond(values: Floats, student: Codes, mean: float, mean_error: float, noise: float) -> Responses:
    """Shrink each student's mean value to `mean`.

    Parameters
    ----------
    values : (n,) oriented residuals. student : (n,) codes. mean, mean_error : the prior's mean and its standard error.
    noise : variance of one episode's residual within a student.

    Notes
    -----
    Between-student variance by moments with the noise known (DerSimonian & Laird 1986 for unequal numbers).
    """
    who, back, n = numbered(student)
    own = np.bincount(back, values) / n
    between = max(between_variance(own, n.astype(np.float64), noise), 0.0)
    weight = between / (between + noise / n) if noise > 0 else np.ones(n.size)
    response = mean + weight * (own - mean)
    spread = np.sqrt(between * (1 - weight) + (1 - weight) ** 2 * mean_error**2)
    return Responses(who, n, response, spread, between, noise)


def between_variance(own: Floats, n: Floats, noise: float) -> float:
    """Variance of true student means, from observed means over n episodes each of variance `noise`.

    Below 0 where the means lie closer than noise alone would have them: cut at 0 only after pooling drills, as the cut
    of each would lean the pool upward.
    """
    total = float(n.sum())
    room = total - float((n**2).sum()) / total if total > 0 else 0.0
    if n.size < 2 or room <= 0:
        return 0.0
    grand = float((n * own).sum()) / total
    outer = float((n * (own - grand) ** 2).sum())
    return (outer - (n.size - 1) * noise) / room


def _values(parts: list[Part], orientation: float, free: bool) -> tuple[Floats, Codes]:
    values, student = [], []
    for p in parts:
        rows = np.flatnonzero(p.fitted.free & np.isfinite(p.side)) if free else p.rows
        values.append(orientation * p.side[rows] * p.fitted.residual[rows])
        student.append(p.of.rows.student[rows])
    return np.concatenate(values), np.concatenate(student)


def models(parts: list[Part], orientation: float, mean_error: float) -> tuple[Responses, Responses]:
    """Responses to the drill, and to free practice by the same rule with a prior fitted to free practice itself."""
    values, student = _values(parts, orientation, free=False)
    luck = luck_of(parts, orientation)
    error = mean_error if np.isfinite(mean_error) else 0.0
    return respond(values, student, float(values.mean()), error, luck.noise), luck


def luck_of(parts: list[Part], orientation: float) -> Responses:
    """Responses to free practice by the same rule as a drill's; worked out once where it is one fit's and no side is
    turned."""
    alone = parts[0].of if len(parts) == 1 and parts[0].side is parts[0].of.no_side else None
    if alone is not None and orientation in alone.luck:
        return alone.luck[orientation]
    values, student = _values(parts, orientation, free=True)
    within = variance_components.from_blocks(student, values, np.zeros(values.size)).between_sessions
    noise = float(within) if np.isfinite(within) else float(values.var())
    found = respond(values, student, float(values.mean()) if values.size else 0.0, 0.0, noise)
    if alone is not None:
        alone.luck[orientation] = found
    return found


def share(of: Responses, size: float) -> float | None:
    """Share of students of at least 2 episodes whose response is surely (P >= .90) beyond `size`; None without any."""
    able = of.episodes >= MIN_EPISODES
    return float((of.probability(size)[able] >= SURE).mean()) if able.any() else None


def shares(parts: list[Part], orientation: float, size: float, mean_error: float) -> dict[str, Any]:
    """Responder share of a drill's row and of free practice by the same rule."""
    drill, luck = models(parts, orientation, mean_error)
    return {"responder_share": share(drill, size), "free_practice_responder_share": share(luck, size)}


RESPONSE_SCHEMA: dict[str, Any] = {
    "student_id": pl.String, "drill_id": pl.String, "metric": pl.String, "measure": pl.String,
    "club_group": pl.String, "horizon": pl.String, "strip": pl.String, "episodes": pl.Int64, "response": pl.Float64,
    "response_low": pl.Float64, "response_high": pl.Float64, "probability": pl.Float64, "responder": pl.Boolean,
}  # fmt: skip
"""Columns of `student_response`; `strip` is 'drill', or 'free_practice' for what luck alone gives (no student)."""


def student_response(
    episodes: pl.DataFrame, *, metrics: pl.DataFrame | Matters | None = None, horizon: str = "transfer"
) -> pl.DataFrame:
    """Each student's response to each drill's aim, and the strip that free practice gives by the same rule.

    Returns
    -------
    polars.DataFrame
        `RESPONSE_SCHEMA`; responses signed as the effect, canonical unit, intervals 95%; `probability` that the
        response is better by more than the smallest change that matters; `responder` null under 2 episodes.
    """
    from warehouse.domain.drill_effect import aims

    read = aims.read(episodes, metrics, horizon, any_club=True)
    frames = [pl.DataFrame(schema=RESPONSE_SCHEMA)]
    for aim in (a for a in read.aims if a.parts and a.orientation):
        error = regression.effect([(p.fitted, p.rows) for p in aim.parts], [p.side for p in aim.parts]).error
        for strip, model in zip(("drill", "free_practice"), models(aim.parts, aim.orientation, error), strict=True):
            keep = model.episodes >= (1 if strip == "drill" else MIN_EPISODES)
            probability = model.probability(aim.matters_from)[keep]
            at, half = aim.orientation * model.response[keep], 1.959964 * model.deviation[keep]
            frames.append(
                pl.DataFrame(
                    {
                        "student_id": [read.student_ids[i] if strip == "drill" else None for i in model.student[keep]],
                        "drill_id": aim.drill.drill_id, "metric": aim.metric, "measure": aim.measure,
                        "club_group": aim.club_group, "horizon": horizon, "strip": strip,
                        "episodes": model.episodes[keep], "response": at, "response_low": at - half,
                        "response_high": at + half, "probability": probability,
                        "responder": pl.Series(probability >= SURE).set(
                            pl.Series(model.episodes[keep] < MIN_EPISODES), None),
                    },
                    schema=RESPONSE_SCHEMA,
                )
            )  # fmt: skip
    return pl.concat(frames).sort("drill_id", "club_group", "strip", "response", "student_id")
