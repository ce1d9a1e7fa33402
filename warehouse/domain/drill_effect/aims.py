"""What each drill is for, as comparisons ready to read: shared by forecasts, responders and subgroups.

Not here: the table of all effects (drill_effect.py).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from warehouse.domain.drill_effect.drill import Drill, Matters, Part, matters_of, orientation, part, pooled, target_of
from warehouse.domain.drill_effect.episodes import Panel, panel, prepare
from warehouse.domain.drill_effect.headline import comparisons, drills_of, usable
from warehouse.schema.metrics import CLUB_GROUPS


@dataclass(frozen=True)
class Aim:
    """A drill's aim in one club group: its rows with a fit (`parts`), and which way is better.

    `parts` is empty when free practice has nothing to compare with: `reason` says why.
    """

    drill: Drill
    metric: str
    measure: str
    club_group: str
    horizon: str
    parts: list[Part]
    orientation: float
    matters_from: float
    target: float | None
    reason: str


@dataclass(frozen=True)
class Aims:
    """All aims, the students' ids by code, and every row of each aim metric."""

    aims: list[Aim]
    student_ids: list[str]
    rows: dict[str, Panel]


def read(
    episodes: pl.DataFrame,
    metrics: pl.DataFrame | Matters | None = None,
    horizon: str = "transfer",
    any_club: bool = False,
) -> Aims:
    """Fit the comparison of every drill's aim metric and collect its aims by club group.

    Parameters
    ----------
    episodes, metrics : as of `warehouse.domain.drill_effect.estimate`.
    any_club : whether drills for any club have a pooled aim too.
    """  # fmt: skip
    sizes = matters_of(metrics)
    aimed = episodes.filter(pl.col("aim_direction").is_not_null())["aim_metric"].drop_nulls().unique()
    prepared = prepare(episodes.filter(pl.col("metric").is_in(aimed.implode())))
    ids = prepared["student_id"].drop_nulls().unique().sort().to_list()
    found: list[Aim] = []
    kept: dict[str, Panel] = {}
    drills = [d for d in drills_of(prepared) if d.aim_metric and d.aim_direction] if not prepared.is_empty() else []
    for metric in sorted({str(d.aim_metric) for d in drills}):
        mine = prepared.filter(pl.col("metric") == metric)
        if mine.is_empty():
            continue
        rows = panel(mine)
        kept[metric] = rows
        cells = comparisons(rows, metric, len(ids), ("centre",), (horizon,), lessons_too=False)
        present = [g for g in CLUB_GROUPS if (g, "centre", horizon, False) in cells]
        for drill in (d for d in drills if d.aim_metric == metric):
            groups = [*present, *(["any"] if any_club else [])] if drill.club_group == "any" else [drill.club_group]
            for club_group in groups:
                size, better = sizes.get((metric, club_group), (np.nan, None))
                measure = "distance" if drill.aim_direction == "toward" else "centre"
                target = target_of(drill, metric, better) if measure == "distance" else None
                chosen = present if club_group == "any" else [club_group]
                every = [part(cells[g, "centre", horizon, False], drill, target) for g in chosen if g in present]
                able, reason = usable(every)
                before = pooled(able, "before")
                way = orientation(drill, metric, measure, better, target, float(before.mean()) if before.size else 0.0)
                found.append(
                    Aim(drill, metric, measure, club_group, horizon, able, way, size, target,
                        reason or ("" if able else "no episode has both blocks"))
                )  # fmt: skip
    return Aims(found, ids, kept)


def oriented(of: Aim) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Residuals of an aim's episodes, up is better, and their students' codes."""
    values = [of.orientation * p.side[p.rows] * p.fitted.residual[p.rows] for p in of.parts]
    student = [p.of.rows.student[p.rows] for p in of.parts]
    return np.concatenate([np.zeros(0), *values]), np.concatenate([np.zeros(0, dtype=np.int64), *student])
