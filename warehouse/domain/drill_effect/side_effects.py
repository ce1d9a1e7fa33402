"""Did the worst balls drop out, or get worse: mishit and unmeasured shares before and after, against free practice.

A warning stands whatever the drill's verdict. Not here: side effects on other metrics (rows of drill_effect.py).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl

from warehouse.domain.drill_effect import regression
from warehouse.domain.drill_effect.comparison import compare, group
from warehouse.domain.drill_effect.drill import Drill, estimated, part, pooled
from warehouse.domain.drill_effect.episodes import REQUIRED, panel, prepare
from warehouse.domain.drill_effect.headline import drills_of, usable
from warehouse.domain.drill_effect.verdict import INTERVAL_STUDENTS, interval
from warehouse.domain.statistics.group_codes import distinct
from warehouse.schema.metrics import CLUB_GROUPS

OUTCOMES = ("mishit_share", "unmeasured_share")
WARN_FROM = 0.05
RAN_SHORT = ("too few shots", "not measured")
"""Reasons that are of a number's shots, not of the episode."""
"""Rise of a share beyond free practice that earns a warning when its interval lies above 0; where nothing can be
compared with yet, twice as much from before to after does."""

SCHEMA: dict[str, Any] = {
    "drill_id": pl.String, "club_group": pl.String, "outcome": pl.String, "episodes": pl.Int64, "students": pl.Int64,
    "before": pl.Float64, "after": pl.Float64, "naive_change": pl.Float64, "effect": pl.Float64, "ci_low": pl.Float64,
    "ci_high": pl.Float64, "check_effect": pl.Float64, "warning": pl.Boolean, "warning_reason": pl.String,
}  # fmt: skip


def _as_episode_rows(shares: pl.DataFrame, outcome: str) -> pl.DataFrame:
    """Shares as if they were centres: error variance p(1 - p)/n, with half a shot added on either side."""
    blocks_here = []
    for block in ("pre", "post"):
        n = pl.col(f"{block}_shots").cast(pl.Float64)
        p = (pl.col(f"{block}_{outcome}") * n + 0.5) / (n + 1)
        blocks_here += [
            pl.col(f"{block}_{outcome}").cast(pl.Float64).alias(f"{block}_centre"),
            (p * (1 - p) / n).alias(f"{block}_variance"),
        ]
    framed = shares.with_columns(
        *blocks_here,
        pl.lit(outcome).alias("metric"),
        # An episode whose usable shots ran short is just where mishits may have risen: it counts here.
        pl.when(~pl.col("excluded_reason").is_in(RAN_SHORT)).then("excluded_reason").alias("excluded_reason"),
    )
    absent = [pl.lit(None, dtype=kind).alias(name) for name, kind in REQUIRED.items() if name not in framed.columns]
    return framed.with_columns(absent)


def _warn(row: dict[str, Any], warn_from: float) -> tuple[bool, str | None]:
    name = str(row["outcome"]).replace("_", " ")
    if row["effect"] is not None and row["ci_low"] is not None:
        if row["effect"] >= warn_from and row["ci_low"] > 0:
            return True, f"{name} rises by {row['effect']:.0%} of shots beyond free practice"
        return False, None
    raw = row["naive_change"]
    if raw is not None and raw >= 2 * warn_from and row["students"] >= 2:
        return True, f"{name} rises by {raw:.0%} of shots from before to after; too little yet to compare with practice"
    return False, None


def _row(drill: Drill, club_group: str, outcome: str, cells: dict[str, Any], warn_from: float) -> dict[str, Any] | None:
    groups = CLUB_GROUPS if club_group == "any" else (club_group,)
    every = [part(cells[g], drill, None) for g in groups if g in cells]
    able, _ = usable(every)
    counted = able or [p for p in every if p.rows.size]
    if not counted:
        return None
    before, change = pooled(counted, "before"), pooled(counted, "change")
    students = distinct(np.concatenate([p.of.rows.student[p.rows] for p in counted]))
    row: dict[str, Any] = {
        "drill_id": drill.drill_id, "club_group": club_group, "outcome": outcome, "episodes": before.size,
        "students": students, "before": float(before.mean()), "after": float((before + change).mean()),
        "naive_change": float(change.mean()), "effect": None, "ci_low": None, "ci_high": None, "check_effect": None,
    }  # fmt: skip
    if able:
        headline: regression.Effect = estimated(able)
        row |= {"effect": headline.effect, "check_effect": estimated(able, own_control=True).effect}
        if students >= INTERVAL_STUDENTS:
            row["ci_low"], row["ci_high"] = interval(headline.effect, headline.error, headline.df)
    row["warning"], row["warning_reason"] = _warn(row, warn_from)
    return row


def side_effects(shares: pl.DataFrame, *, warn_from: float = WARN_FROM) -> pl.DataFrame:
    """Estimate what each drill does to the shares of mishits and of unmeasured shots.

    Parameters
    ----------
    shares : one row an episode, with the label columns of `REQUIRED` of episodes.py, pre_shots and
        post_shots (all shots struck with the episode's club, mishits and unmeasured ones among them), and
        pre_mishit_share, post_mishit_share, pre_unmeasured_share, post_unmeasured_share (0 to 1).

    warn_from : rise of a share beyond free practice that warns.

    Returns
    -------
    polars.DataFrame
        `SCHEMA`, a row a drill, club group ('any' too for drills of any club) and outcome; shares 0 to 1, intervals
        95%.
    """
    found: list[dict[str, Any]] = []
    for outcome in OUTCOMES:
        prepared = prepare(_as_episode_rows(shares, outcome))
        if prepared.is_empty():
            continue
        rows = panel(prepared)
        students = int(rows.student.max(initial=0)) + 1
        cells = {
            g: compare(group(rows.take(rows.group == g), "centre", students, False), "transfer")
            for g in CLUB_GROUPS
            if (rows.group == g).any()
        }
        for drill in drills_of(prepared):
            groups = [*cells, "any"] if drill.club_group == "any" else [drill.club_group]
            found += [row for g in groups if (row := _row(drill, g, outcome, cells, warn_from)) is not None]
    frame = pl.DataFrame(found, schema=SCHEMA)
    return frame.with_columns(pl.col(pl.Float64).fill_nan(None)).sort("drill_id", "club_group", "outcome")
