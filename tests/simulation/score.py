"""How well estimates did against the truth, over all academies: coverage, false calls, power, error, ranking.

A cell is one row of the effect table with an interval. Aim cells are those a drill was made for; null aims are aims of
drills that do nothing on average. Not here: forecasts (`forecasts`).
"""

from __future__ import annotations

import numpy as np
import polars as pl

from tests.simulation.academies import Academy
from tests.simulation.cells import KEY
from tests.simulation.rows import Frames
from tests.simulation.scenario import METRICS, TOWARD, UNIT

NOTHING = 0.05
"""A true benefit of at most this many smallest changes counts as none when calls are judged."""
CLEAR = 0.5
"""The best drill is clearly best when it leads by this many smallest changes."""
USEFUL = ("works", "helps")
SPREAD_UNIT = 0.10


def judged(effects: pl.DataFrame, cells: pl.DataFrame, frames: Frames, academy: Academy) -> pl.DataFrame:
    """Join estimates, rivals and truth; put everything in smallest changes and orient `benefit` by the aim."""
    drills = frames.episodes.filter(pl.col("drill_id").is_not_null()).select("drill_id", "aim_metric").unique()
    planned = pl.DataFrame({"drill_id": [f"D{d:03d}" for d in range(academy.drills.size.size)],
                            "size": academy.drills.size})  # fmt: skip
    units = pl.DataFrame({"metric": METRICS, "_unit": UNIT, "_toward": TOWARD})
    measure_of_aim = pl.when("_toward").then(pl.lit("distance")).otherwise(pl.lit("centre"))
    columns = ["effect", "ci_low", "ci_high", "check_effect", "check_low", "check_high", "shrunk_effect", "q_value",
               "verdict", "certainty", "students", "episodes", "df"]  # fmt: skip
    return (
        cells.join(effects.select(*KEY, *columns), on=KEY, how="left")
        .join(drills, on="drill_id")
        .join(planned, on="drill_id")
        .join(units, on="metric")
        .with_columns(
            unit=pl.when(pl.col("measure") == "spread").then(SPREAD_UNIT).otherwise(pl.col("_unit")),
            aim=(pl.col("metric") == pl.col("aim_metric")) & (pl.col("measure") == measure_of_aim),
            sign=pl.when("_toward").then(-1.0).otherwise(1.0),
            seed=pl.lit(academy.seed),
            scenario=pl.lit(academy.scenario.name),
        )
        .with_columns(benefit=pl.col("sign") * pl.col("true") / pl.col("unit"))
    )


def _covered(method: str) -> pl.Expr:
    low, high = ("ci_low", "ci_high") if method == "effect" else (f"{method}_low", f"{method}_high")
    return ((pl.col(low) <= pl.col("true") + 1e-12) & (pl.col("true") <= pl.col(high) + 1e-12)).mean()


def _error(method: str) -> pl.Expr:
    return (((pl.col(method) - pl.col("true")) / pl.col("unit")) ** 2).mean().sqrt()


def _called_useful(method: str) -> pl.Expr:
    """The engine's verdict; for a rival, its whole interval on the better side."""
    if method == "effect":
        return pl.col("verdict").is_in(USEFUL)
    low = pl.col(f"{method}_low") * pl.col("sign")
    high = pl.col(f"{method}_high") * pl.col("sign")
    return pl.min_horizontal(low, high) > 0


def summary(cells: pl.DataFrame) -> pl.DataFrame:
    """One row per horizon and method, over the cells the engine gave an interval for.

    Columns: `cells`, `coverage`, `aim_coverage`, `null_aim_coverage`, `aim_bias` and `null_aim_bias` (benefit
    overstated, smallest changes), `false_discoveries` (share of those called useful that are not), `power` (aims truly
    worth .75 to 1.25 smallest changes, past the gate), `rmse`, `aim_rmse` (smallest changes), `of_naive` and
    `aim_of_naive` (error over the naive rule's; spread, in which the naive rule has no bias, is out of the first).
    """
    found = []
    given = cells.filter(pl.col("ci_low").is_not_null())
    for horizon in ("transfer", "retention"):
        part = given.filter(horizon=horizon)
        aim = part.filter("aim")
        null = aim.filter(pl.col("size") == 0)
        gated = aim.filter(pl.col("verdict") != "too early")
        one = gated.filter(pl.col("benefit").is_between(0.75, 1.25))
        level = part.filter(pl.col("measure") != "spread")
        naive, aim_naive = level.select(_error("naive")).item(), aim.select(_error("naive")).item()
        for method in ("effect", "naive", "plain"):
            over = ((pl.col(method) - pl.col("true")) * pl.col("sign") / pl.col("unit")).mean()
            called = gated.filter(_called_useful(method))
            found.append(
                {
                    "horizon": horizon,
                    "method": {"effect": "engine", "naive": "after - before", "plain": "plain covariance"}[method],
                    "cells": part.height,
                    "coverage": part.select(_covered(method)).item(),
                    "aim_coverage": aim.select(_covered(method)).item(),
                    "null_aim_coverage": null.select(_covered(method)).item(),
                    "aim_bias": aim.select(over).item(),
                    "null_aim_bias": null.select(over).item(),
                    "called": called.height,
                    "false_discoveries": called.select((pl.col("benefit") <= NOTHING).mean()).item(),
                    "power": one.select(_called_useful(method).mean()).item(),
                    "rmse": part.select(_error(method)).item(),
                    "aim_rmse": aim.select(_error(method)).item(),
                    "of_naive": level.select(_error(method)).item() / naive,
                    "aim_of_naive": aim.select(_error(method)).item() / aim_naive,
                }
            )
    return pl.DataFrame(found)


def first_rank(cells: pl.DataFrame) -> dict[str, float]:
    """How often the drill ranked first is the truly best, among three or more with one aim and club group.

    `clear`: only where the best leads by half a smallest change; `near`: what is ranked first is within a quarter of
    the best; `naive`: the same as `clear` by the naive change.
    """
    aims = cells.filter(
        pl.col("aim") & (pl.col("club_group") != "any") & (pl.col("horizon") == "transfer")
        & pl.col("shrunk_effect").is_not_null() & (pl.col("verdict") != "too early")
    )  # fmt: skip
    strict, clear, near, naive = [], [], [], []
    for _, part in aims.group_by("scenario", "seed", "metric", "club_group"):
        if part.height < 3:
            continue
        benefit = part["benefit"].to_numpy()
        ours = int(np.argmax((part["shrunk_effect"] * part["sign"]).to_numpy()))
        theirs = int(np.argmax((part["naive"] * part["sign"]).to_numpy()))
        best = np.sort(benefit)[::-1]
        strict.append(benefit[ours] == best[0])
        near.append(benefit[ours] >= best[0] - 0.25)
        if best[0] - best[1] >= CLEAR:
            clear.append(benefit[ours] == best[0])
            naive.append(benefit[theirs] == best[0])
    return {"sets": float(len(strict)), "first": _mean(strict), "clear_sets": float(len(clear)), "clear": _mean(clear),
            "near": _mean(near), "naive_clear": _mean(naive)}  # fmt: skip


def _mean(values: list) -> float:
    return float(np.mean(values)) if values else float("nan")


def by(cells: pl.DataFrame, *columns: str) -> pl.DataFrame:
    """Break the engine's coverage and error down by columns, to find where it falls short."""
    return (
        cells.filter(pl.col("ci_low").is_not_null())
        .group_by(columns)
        .agg(
            pl.len().alias("cells"),
            _covered("effect").alias("coverage"),
            ((pl.col("effect") - pl.col("true")) * pl.col("sign") / pl.col("unit")).mean().alias("bias"),
            _error("effect").alias("rmse"),
            ((pl.col("ci_high") - pl.col("ci_low")) / 3.92 / pl.col("unit")).mean().alias("stated_error"),
        )
        .sort(columns)
    )
