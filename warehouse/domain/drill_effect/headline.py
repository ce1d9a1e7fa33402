"""Did the drill do it: the change beyond free practice of every drill, metric, measure, club group and horizon.

Not here: how a block is made (blocks.py), the fit (influence.py), what a verdict means (verdict.py).
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np
import polars as pl

from warehouse.domain.drill_effect import placebo, regression, responders, selection
from warehouse.domain.drill_effect.comparison import HORIZONS, Comparison, compare, group
from warehouse.domain.drill_effect.covariates import ENOUGH_LESSON_EPISODES
from warehouse.domain.drill_effect.drill import (
    DRAWN_STUDENTS,
    SCHEMA,
    Drill,
    Matters,
    Part,
    estimated,
    followed,
    is_aim,
    matters_for,
    matters_of,
    orientation,
    part,
    pooled,
    target_of,
)
from warehouse.domain.drill_effect.episodes import Panel, by_metric, panel, prepare
from warehouse.domain.drill_effect.judge_rows import finish
from warehouse.domain.drill_effect.verdict import VERDICT_STUDENTS, interval
from warehouse.domain.statistics.group_codes import distinct
from warehouse.schema.metrics import CLUB_GROUPS, METRIC

LOT_DF = 3.0
"""Degrees of freedom that both drawn and chosen episodes need before they are held against each other."""
METRICS_AT_ONCE = 4
"""Metrics fitted side by side: each holds its arrays in memory."""
Cells = dict[tuple[str, str, str, bool], Comparison]


def drills_of(prepared: pl.DataFrame) -> list[Drill]:
    """Every drill met in the episodes, in order of id."""
    facts = (
        prepared.filter(pl.col("drill_id").is_not_null())
        .group_by("drill_id", "drill_id_code")
        .agg(pl.col("aim_metric", "aim_direction", "aim_target", "drill_club_group").drop_nulls().first())
        .sort("drill_id")
    )
    return [Drill(row[0], row[1], row[2], row[3], row[4], row[5] or "any") for row in facts.iter_rows()]


def comparisons(
    rows: Panel,
    metric: str,
    students: int,
    measures: tuple[str, ...] = ("centre", "spread"),
    horizons: tuple[str, ...] = HORIZONS,
    lessons_too: bool = True,
) -> Cells:
    """Fit every club group, block measure and horizon of one metric, once against all free practice, once lessons."""
    cells: Cells = {}
    mirrored = metric in METRIC and METRIC[metric].mirrored
    for name in CLUB_GROUPS:
        here = rows.group == name
        if not here.any():
            continue
        mine = rows.take(here)
        for measure in measures:
            one = group(mine, measure, students, mirrored)
            for horizon in horizons:
                cells[name, measure, horizon, False] = compare(one, horizon)
                if not lessons_too:
                    continue
                lessons = cells[name, measure, horizon, False].rows
                enough = distinct(lessons.student[lessons.free & (lessons.coach >= 0)]) >= VERDICT_STUDENTS
                if enough and int((lessons.free & (lessons.coach >= 0)).sum()) >= 2 * ENOUGH_LESSON_EPISODES:
                    cells[name, measure, horizon, True] = compare(one, horizon, lessons_only=True)
    return cells


def usable(parts: list[Part]) -> tuple[list[Part], str]:
    """Parts whose fit can carry the drill; the reason of the first that cannot, when none can."""
    able, reason = [], ""
    for p in parts:
        if not p.rows.size:
            continue
        if p.of.fit is None:
            reason = reason or p.of.reason
        elif not regression.estimable(p.fitted, p.rows, p.side):
            reason = reason or "free practice has nothing comparable (its conditions are outside what practice covers)"
        else:
            able.append(p)
    return able, reason


def _row(
    cells: Cells, drill: Drill, metric: str, measure: str, club_group: str, horizon: str, matters: Any, last_day: int
) -> dict[str, Any] | None:
    """One row of the table before false discovery control, verdicts and pooling; None without episodes."""
    size, better_word = matters
    target = target_of(drill, metric, better_word) if measure == "distance" else None
    if measure == "distance" and target is None:
        return None
    groups = CLUB_GROUPS if club_group == "any" else (club_group,)
    block = "spread" if measure == "spread" else "centre"
    found = [cells[g, block, horizon, False] for g in groups if (g, block, horizon, False) in cells]
    every = [part(one, drill, target) for one in found]
    if not any((p.of.eligible.drill == drill.code).any() for p in every):
        return None
    able, reason = usable(every)
    counted = able or [p for p in every if p.rows.size]
    who = np.concatenate([p.of.rows.student[p.rows] for p in counted] or [np.zeros(0, dtype=np.int64)])
    coach = np.concatenate([p.of.rows.coach[p.rows] for p in counted] or [np.zeros(0, dtype=np.int64)])
    week = np.concatenate([p.of.rows.week[p.rows] for p in counted] or [np.zeros(0)])
    drawn = np.concatenate([p.of.rows.drawn[p.rows] for p in counted] or [np.zeros(0, dtype=bool)])
    before = pooled(counted, "before")
    centre_target = target_of(drill, metric, better_word)
    row: dict[str, Any] = {
        "drill_id": drill.drill_id, "metric": metric, "measure": measure, "club_group": club_group, "horizon": horizon,
        "episodes": who.size, "students": distinct(who), "coaches": distinct(coach[coach >= 0]),
        "drawn_share": float(drawn.mean()) if drawn.size else None,
        "naive_change": float(pooled(counted, "change").mean()) if who.size else None,
        "is_aim": is_aim(drill, metric, measure), "matters_from": matters_for(measure, size),
        "orientation": orientation(drill, metric, measure, better_word, centre_target,
                                   float(before.mean()) if before.size else np.nan),
        "weeks": float(last_day / 7 - week.min()) if week.size else 0.0,
        "followed_share": followed(counted or every, drill) if horizon == "retention" else np.nan,
        "left_out_followed_by_drill": _followed_by_drill(every, drill) if horizon == "retention" else None,
        "not_estimable_reason": "" if able else (reason or "no episode has both blocks"),
        "unseen": any(bool(p.of.unseen[p.rows].any()) for p in able),
        "left_out": _left_out(every, able),
    }  # fmt: skip
    if able:
        lessons = [part(cells[k], drill, target) for k in ((g, block, horizon, True) for g in groups) if k in cells]
        row |= _estimates(able, [p for p in lessons if p.of.fit is not None and p.rows.size], row)
    return row


def _left_out(every: list[Part], able: list[Part]) -> str:
    """Names the club groups with episodes that the row over all clubs had to do without."""
    names = {str(p.of.rows.group[0]) for p in every if p.rows.size} - {str(p.of.rows.group[0]) for p in able}
    return f"left out: {', '.join(sorted(names))}, nothing to compare with" if able and names else ""


def _followed_by_drill(parts: list[Part], drill: Drill) -> int:
    return sum(int((p.of.before_another == drill.code).sum()) for p in parts)


def _estimates(able: list[Part], lessons: list[Part], row: dict[str, Any]) -> dict[str, Any]:
    """The estimators of one row and what stands beside them."""
    headline, check = estimated(able), estimated(able, own_control=True)
    alone, coached = (sum(p.of.comparator[kind] for p in able) for kind in (0, 1))
    compared = all(p.of.lessons_compared for p in able)
    beside = "" if compared else "; includes the coach's attention"
    out: dict[str, Any] = {
        "effect": headline.effect, "standard_error": headline.error, "df": headline.df,
        "check_effect": check.effect, "check_error": check.error,
        "comparator_alone": alone, "comparator_with_coach": coached,
        "comparator": f"{alone} episodes of practice alone, {coached} of lessons without a drill{beside}",
        "free_change": float(pooled(able, "predicted_change").mean()),
        "comparator_students": distinct(np.concatenate(
            [one for p in able for one in (p.of.free_students, p.of.rows.student[p.rows])])),
    }  # fmt: skip
    if lessons:
        beyond = estimated(lessons)
        n = sum(p.rows.size for p in lessons)
        if beyond.estimable and n == row["episodes"]:
            low, high = interval(beyond.effect, beyond.error, beyond.df)
            out |= {"effect_beyond_lesson": beyond.effect, "beyond_lesson_low": low, "beyond_lesson_high": high}
    out |= _own_data(able, row)
    by_lot = np.concatenate([p.of.rows.student[p.rows[p.of.rows.drawn[p.rows]]] for p in able])
    if distinct(by_lot) >= DRAWN_STUDENTS:
        lot = estimated(able, only="drawn")
        if lot.estimable:
            low, high = interval(lot.effect, lot.error, lot.df)
            out |= {"drawn_effect": lot.effect, "drawn_low": low, "drawn_high": high}
    if row["orientation"]:
        out |= responders.shares(able, row["orientation"], row["matters_from"], headline.error)
    return out


def _lost(able: list[Part], row: dict[str, Any]) -> dict[str, Any]:
    """What balls that the bay did not measure could do to this row; nothing is known of a next session's."""
    if row["horizon"] != "transfer" or row["measure"] == "spread":
        return {}
    of = selection.measured(able)
    return {"measured_change": of.change, "selection_shift": of.shift}


def _own_data(able: list[Part], row: dict[str, Any]) -> dict[str, Any]:
    """What the academy's own data say about this row: its placebo drill, chosen against drawn, students' trends."""
    fake = placebo.estimated(able)
    gain = np.concatenate([p.of.per_weekly_gain[p.rows] for p in able])
    spreads = np.array([p.of.slopes.spread for p in able])
    out: dict[str, Any] = {
        "placebo_effect": fake.effect, "placebo_error": fake.error, "placebo_df": fake.df,
        "per_weekly_gain": float(gain.mean()), **_lost(able, row),
        "trend_spread": float(np.nanmax(spreads)) if np.isfinite(spreads).any() else np.nan,
    }  # fmt: skip
    if row["is_aim"] and 0 < (row["drawn_share"] or 0) < 1:
        lot, chosen = (estimated(able, only=which) for which in ("drawn", "chosen"))
        if min(lot.df, chosen.df) >= LOT_DF and lot.estimable and chosen.estimable:
            out["chosen_less_drawn"] = chosen.effect - lot.effect
            out["chosen_less_drawn_error"] = float(np.hypot(lot.error, chosen.error))
    return out


def _rows_of_metric(
    rows: Panel, metric: str, drills: list[Drill], sizes: Any, students: int, last_day: int
) -> list[dict[str, Any]]:
    cells = comparisons(rows, metric, students)
    present = [name for name in CLUB_GROUPS if (name, "centre", "transfer", False) in cells]
    found = []
    for drill in drills:
        groups = [*present, "any"] if drill.club_group == "any" else [drill.club_group]
        for club_group in groups:
            matters = sizes.get((metric, club_group)) or sizes.get((metric, "any")) or (np.nan, None)
            for measure in ("centre", "distance", "spread"):
                for horizon in HORIZONS:
                    row = _row(cells, drill, metric, measure, club_group, horizon, matters, last_day)
                    if row is not None:
                        found.append(row)
    return found


def estimate(episodes: pl.DataFrame, *, metrics: pl.DataFrame | Matters | None = None) -> pl.DataFrame:
    """Estimate every drill's effect beyond free practice.

    Parameters
    ----------
    episodes : one row an episode and metric (core.drill_episode with core.episode_metric), columns and types of
        `REQUIRED` of episodes.py: labels (episode_id, kind 'drill' | 'free_practice', drill_id, student_id,
        session_id, coach_id, bay_id, club, club_group, chosen_by, begins_at, week, handed, metric); for each of the
        blocks pre, post and next: shots, centre, variance (error variance of the centre) and spread (winsorised SD),
        bay offsets removed and left-handers mirrored; next_session_id, next_bay_id, next_days, followed_by_drill,
        excluded_reason; the drill's aim_metric, aim_direction ('raise' | 'lower' | 'toward'), aim_target,
        drill_club_group.
    metrics : smallest change that matters and better direction by metric and club group, as a frame (metric,
        club_group, matters_from, better) or a mapping (metric, club_group) -> (matters_from, better); defaults from
        warehouse.schema.metrics.

    Returns
    -------
    polars.DataFrame
        Rows of mart.drill_effect, columns `SCHEMA` of drill.py. Effects in the metric's canonical unit
        ('distance' alike, down is better; 'spread' in log units), intervals 95%.
    """
    sizes = matters_of(metrics)
    prepared = prepare(episodes)
    if prepared.is_empty():
        return pl.DataFrame(schema=SCHEMA)
    drills = drills_of(prepared)
    students = int(prepared["student_id_code"].max()) + 1  # type: ignore[arg-type]

    def of_metric(metric: str, mine: pl.DataFrame) -> list[dict[str, Any]]:
        rows = panel(mine)
        return _rows_of_metric(rows, metric, drills, sizes, students, int(rows.day.max()))

    with ThreadPoolExecutor(min(os.cpu_count() or 1, METRICS_AT_ONCE)) as workers:
        return finish([row for rows in workers.map(of_metric, *zip(*by_metric(prepared), strict=True)) for row in rows])
