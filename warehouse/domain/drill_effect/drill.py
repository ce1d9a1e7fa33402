"""Rows of mart.drill_effect: their columns, what is better, and one row from the comparisons it rests on.

Not here: the loop over metrics and drills (drill_effect.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from warehouse.domain.drill_effect import regression
from warehouse.domain.drill_effect.comparison import Comparison
from warehouse.domain.statistics import block_summary
from warehouse.schema.metrics import CLUB_GROUPS, METRICS

Codes = NDArray[np.int64]
Matters = Mapping[tuple[str, str], tuple[float, str | None]]

TEXT, NUMBER, COUNT = pl.String, pl.Float64, pl.Int64
SCHEMA: dict[str, Any] = {
    "drill_id": TEXT, "metric": TEXT, "measure": TEXT, "club_group": TEXT, "horizon": TEXT, "episodes": COUNT,
    "students": COUNT, "coaches": COUNT, "drawn_share": NUMBER, "naive_change": NUMBER, "effect": NUMBER,
    "ci_low": NUMBER, "ci_high": NUMBER, "check_effect": NUMBER, "check_low": NUMBER, "check_high": NUMBER,
    "p_value": NUMBER, "q_value": NUMBER, "shrunk_effect": NUMBER, "shrunk_low": NUMBER, "shrunk_high": NUMBER,
    "responder_share": NUMBER, "free_practice_responder_share": NUMBER, "verdict": TEXT, "certainty": TEXT,
    "certainty_reason": TEXT, "verdict_reason": TEXT, "not_estimable_reason": TEXT, "is_aim": pl.Boolean,
    "matters_from": NUMBER, "better": TEXT, "standard_error": NUMBER, "check_error": NUMBER, "df": NUMBER,
    "followed_share": NUMBER, "left_out_followed_by_drill": COUNT, "comparator_alone": COUNT,
    "comparator_with_coach": COUNT, "comparator": TEXT, "effect_beyond_lesson": NUMBER,
    "beyond_lesson_low": NUMBER, "beyond_lesson_high": NUMBER, "drawn_effect": NUMBER, "drawn_low": NUMBER,
    "drawn_high": NUMBER, "free_change": NUMBER, "robustness_value": NUMBER,
    "placebo_effect": NUMBER, "placebo_low": NUMBER, "placebo_high": NUMBER, "lean_removed": NUMBER,
    "widened_by": NUMBER, "trend_spread": NUMBER, "trend_to_explain": NUMBER,
    "measured_change": NUMBER, "selection_shift": NUMBER,
}  # fmt: skip
"""Columns of mart.drill_effect with what stands beside them; the first 26 are mart.drill_effect itself."""

DRAWN_STUDENTS = 10


@dataclass(frozen=True)
class Drill:
    """A drill's facts: its aim and the club group it is for ('any': all)."""

    drill_id: str
    code: int
    aim_metric: str | None
    aim_direction: str | None
    aim_target: float | None
    club_group: str


def default_matters() -> dict[tuple[str, str], tuple[float, str | None]]:
    """Smallest change that matters and better direction of every metric and club group, 'any' among them."""
    return {
        (metric.name, group): (metric.matters_from, metric.better_for(group))
        for metric in METRICS
        for group in (*CLUB_GROUPS, "any")
    }


def matters_of(metrics: pl.DataFrame | Matters | None) -> dict[tuple[str, str], tuple[float, str | None]]:
    """Defaults overlaid with a frame (metric, club_group, matters_from, better) or a mapping of the same."""
    known = default_matters()
    if metrics is None:
        return known
    if isinstance(metrics, pl.DataFrame):
        given = metrics.select("metric", "club_group", "matters_from", "better").iter_rows()
        return known | {(metric, group): (size, better) for metric, group, size, better in given}
    return known | dict(metrics)


def target_of(drill: Drill, metric: str, better: str | None) -> float | None:
    """What `distance` is measured from: the aim's target, else 0 for metrics better near zero, else None."""
    if drill.aim_metric == metric and drill.aim_direction == "toward":
        return 0.0 if drill.aim_target is None else drill.aim_target
    return 0.0 if better == "zero" else None


def is_aim(drill: Drill, metric: str, measure: str) -> bool:
    """Whether a verdict on this metric and measure is a verdict on what the drill is for."""
    wanted = "distance" if drill.aim_direction == "toward" else "centre"
    return drill.aim_metric == metric and drill.aim_direction is not None and measure == wanted


def orientation(
    drill: Drill, metric: str, measure: str, better: str | None, target: float | None, before: float
) -> float:
    """+1 where more is better, -1 where less is, 0 where nothing says so (`before`: the drill's mean pre block)."""
    if measure in ("distance", "spread"):
        return -1.0
    if drill.aim_metric == metric and drill.aim_direction is not None:
        by_aim = {"raise": 1.0, "lower": -1.0}
        if drill.aim_direction in by_aim:
            return by_aim[drill.aim_direction]
        return float(np.sign((target or 0.0) - before)) if np.isfinite(before) else 0.0
    return {"up": 1.0, "down": -1.0}.get(better or "", 0.0)


@dataclass(frozen=True)
class Part:
    """The places of one drill's rows in one comparison, and every row's side (1 except for distances)."""

    of: Comparison
    rows: Codes
    side: NDArray[np.float64]

    @property
    def fitted(self) -> regression.Fit:
        """The fit; only asked of parts that have one."""
        assert self.of.fit is not None
        return self.of.fit


def part(of: Comparison, drill: Drill, target: float | None) -> Part:
    """Choose a drill's rows; for a distance only students with an earlier day."""
    rows = of.rows.drill == drill.code
    if target is None:
        return Part(of, np.flatnonzero(rows), of.no_side)
    side = of.side(target)
    return Part(of, np.flatnonzero(rows & np.isfinite(side)), side)


def estimated(parts: list[Part], own_control: bool = False, only: str = "") -> regression.Effect:
    """Effect over parts that have a fit; `only` 'drawn' keeps episodes drawn by lot, 'chosen' the others."""
    keep = {"drawn": lambda p: p.rows[p.of.rows.drawn[p.rows]], "chosen": lambda p: p.rows[~p.of.rows.drawn[p.rows]]}
    chosen = [(p.fitted, keep[only](p) if only else p.rows) for p in parts]
    return regression.effect(chosen, [p.side for p in parts], own_control)


def pooled(parts: list[Part], values: str) -> NDArray[np.float64]:
    """One array over the parts' rows: 'before', 'change' (sided) or 'predicted_change' (sided)."""
    arrays = []
    for p in parts:
        before = p.of.before[p.rows]
        if values == "before":
            arrays.append(before)
            continue
        change = p.of.after[p.rows] - before
        if values == "predicted_change":
            change = change - p.fitted.residual[p.rows]
        arrays.append(p.side[p.rows] * change)
    return np.concatenate(arrays) if arrays else np.zeros(0)


def matters_for(measure: str, size: float) -> float:
    """Smallest change that matters of a measure."""
    return block_summary.SPREAD_MATTERS_FROM if measure == "spread" else size


def followed(parts: list[Part], drill: Drill) -> float:
    """Share of a drill's episodes with a next session, among those whose days for one have passed."""
    have = waited = 0
    for p in parts:
        mine = p.of.eligible.drill == drill.code
        done = p.of.eligible.followed[mine]
        ripe = p.of.eligible.ripe[mine]
        have += int((done & ripe).sum())
        waited += int(ripe.sum())
    return have / waited if waited else float("nan")
