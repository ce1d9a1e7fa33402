"""Mishits and unmeasured shots: a drill must not look good because the worst balls dropped out."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import polars as pl

from warehouse.domain.drill_effect.side_effects import SCHEMA, side_effects

MakeRows = Callable[..., pl.DataFrame]


def shares(rows: pl.DataFrame, worse: str | None, by: float = 0.15) -> pl.DataFrame:
    """Binomial shares about .08, higher after the drill `worse`."""
    rng = np.random.default_rng(5)
    after = 0.08 + by * (rows["drill_id"] == (worse or "none")).fill_null(False).to_numpy()
    pre, post = rows["pre_shots"].to_numpy(), rows["post_shots"].to_numpy()
    return rows.drop("metric").with_columns(
        pre_mishit_share=pl.Series(rng.binomial(pre, 0.08) / pre),
        post_mishit_share=pl.Series(rng.binomial(post, after) / post),
        pre_unmeasured_share=pl.lit(0.0), post_unmeasured_share=pl.lit(0.0),
    )  # fmt: skip


def test_a_drill_whose_worst_balls_drop_out_carries_a_warning_and_the_other_none(academy_rows: MakeRows) -> None:
    found = side_effects(shares(academy_rows(students=90), "B")).filter(outcome="mishit_share")
    by = {row["drill_id"]: row for row in found.iter_rows(named=True)}
    assert by["B"]["warning"]
    assert "mishit share rises" in by["B"]["warning_reason"]
    assert by["B"]["ci_low"] < 0.15 < by["B"]["ci_high"]
    assert not by["A"]["warning"]
    assert by["A"]["ci_low"] < 0 < by["A"]["ci_high"]


def test_episodes_left_with_too_few_usable_shots_count_here(academy_rows: MakeRows) -> None:
    rows = academy_rows()
    short = rows.with_columns(
        excluded_reason=pl.when(pl.col("drill_id") == "B").then(pl.lit("too few shots")).otherwise("excluded_reason")
    )
    counted = side_effects(shares(short, "B")).filter(drill_id="B", outcome="mishit_share")
    assert counted["episodes"][0] == rows.filter(drill_id="B").height
    event = rows.with_columns(excluded_reason=pl.lit("event between"))
    assert side_effects(shares(event, "B")).is_empty()


def test_without_free_practice_a_large_raw_rise_still_warns_and_says_so(academy_rows: MakeRows) -> None:
    found = side_effects(shares(academy_rows(free=False), "B", by=0.3)).filter(outcome="mishit_share")
    by = {row["drill_id"]: row for row in found.iter_rows(named=True)}
    assert by["B"]["warning"]
    assert "too little yet to compare" in by["B"]["warning_reason"]
    assert by["B"]["effect"] is None
    assert not by["A"]["warning"]


def test_an_empty_frame_gives_an_empty_table(academy_rows: MakeRows) -> None:
    assert dict(side_effects(shares(academy_rows(), None).clear()).schema) == SCHEMA
