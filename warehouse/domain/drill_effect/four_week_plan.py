"""A student's next four weeks: two or three drills with what to expect of each, made anew each night. No promise.

Not here: the forecasts (forecast), which drills are held for whom (the notebook knows).
"""

from __future__ import annotations

from typing import Any

import polars as pl

from warehouse.schema.metrics import METRIC

WEEKS = 4
MOST_DRILLS = 3
PLAN: dict[str, Any] = {
    "place": pl.Int64, "from_week": pl.Int64, "to_week": pl.Int64, "drill_id": pl.String, "metric": pl.String,
    "measure": pl.String, "club_group": pl.String, "expected_effect": pl.Float64, "interval_low": pl.Float64,
    "interval_high": pl.Float64, "gain": pl.Float64, "sentence": pl.String,
}  # fmt: skip
"""Effects as in mart.drill_forecast: one episode's change beyond free practice; `gain` the same in smallest changes, up
is better."""
_SPANS = {1: [(1, 4)], 2: [(1, 2), (3, 4)], 3: [(1, 2), (3, 3), (4, 4)]}


def four_weeks(
    forecast: pl.DataFrame, effects: pl.DataFrame, held_drills: frozenset[str] = frozenset(),
    held_aims: frozenset[str] = frozenset(), goal_metric: str | None = None, most: int = MOST_DRILLS,
) -> pl.DataFrame:  # fmt: skip
    """Choose up to `most` drills for one student: `PLAN`, empty where no drill is expected to help.

    Parameters
    ----------
    forecast : the student's rows of mart.drill_forecast.
    effects : mart.drill_effect; aim rows say which way is better and what matters; drills that go the wrong way or
        have no meaningful effect are left out.

    Notes
    -----
    The goal's metric first, then by expected gain; another metric before a second drill for the same.
    """
    aim = effects.filter(pl.col("is_aim") & (pl.col("horizon") == "transfer") & pl.col("better").is_not_null())
    fit = forecast.join(
        aim.select("drill_id", "metric", "measure", "club_group", "better", "matters_from", "verdict"),
        on=["drill_id", "metric", "measure", "club_group"],
    ).filter(
        pl.col("expected_effect").is_not_null()
        & ~pl.col("verdict").is_in(["wrong way", "no meaningful effect"]).fill_null(False)
        & ~pl.col("drill_id").is_in(list(held_drills))
        & ~pl.col("metric").is_in(list(held_aims))
    )
    up = pl.when(pl.col("better") == "up").then(1.0).otherwise(-1.0)
    ranked = (
        fit.with_columns(gain=up * pl.col("expected_effect") / pl.col("matters_from"))
        .filter(pl.col("gain") > 0)
        .sort("gain", "drill_id", descending=[True, False])
        .unique("drill_id", keep="first", maintain_order=True)
        .with_columns(_again=pl.int_range(pl.len()).over("metric"), _goal=pl.col("metric").eq(goal_metric or ""))
        .with_columns(_first=pl.col("_goal") & (pl.col("_again") == 0))
        .sort("_first", "_again", "gain", descending=[True, False, True], maintain_order=True)
        .head(min(most, max(_SPANS)))
    )
    spans = _SPANS[ranked.height] if ranked.height else []
    rows = [
        {name: row.get(name) for name in PLAN}
        | {"place": place + 1, "from_week": span[0], "to_week": span[1], "sentence": _sentence(row, span)}
        for place, (row, span) in enumerate(zip(ranked.iter_rows(named=True), spans, strict=True))
    ]
    return pl.DataFrame(rows, schema=PLAN)


def _sentence(row: dict[str, Any], span: tuple[int, int]) -> str:
    metric = METRIC[row["metric"]]
    spread = row["measure"] == "spread"
    unit, per = ("", 1.0) if spread else (f" {metric.display_unit}", metric.per_display_unit)
    decimals = 2 if spread else metric.decimals
    expected, low, high = (
        f"{row[name] / per:+.{decimals}f}" for name in ("expected_effect", "interval_low", "interval_high")
    )
    what = {"distance": f"distance of {metric.label} from the aim", "spread": f"scatter of {metric.label}"}
    weeks = f"Week {span[0]}" if span[0] == span[1] else f"Weeks {span[0]} to {span[1]}"
    no_change = " It may also do nothing." if row["interval_low"] <= 0 <= row["interval_high"] else ""
    return (
        f"{weeks}: {row['drill_id']}, {row['club_group']}. {what.get(row['measure'], metric.label).capitalize()} "
        f"beyond free practice: {expected}{unit} expected of the next time, {low} to {high} in eight of ten.{no_change}"
    )
