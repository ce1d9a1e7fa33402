"""Forecasts: who has one, what moves it, how wide it is."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import polars as pl
import pytest

from warehouse.domain.drill_effect.forecast import SCHEMA, forecast
from warehouse.domain.drill_effect.headline import estimate

MakeRows = Callable[..., pl.DataFrame]
PUBLISHED = ("student_id", "drill_id", "metric", "club_group", "expected_effect", "interval_low", "interval_high")


def test_every_student_with_blocks_has_a_forecast_for_every_drill_new_ones_too(academy_rows: MakeRows) -> None:
    rows = academy_rows(effects={"A": 0.0, "B": 1.0, "C": 0.5})
    found = forecast(rows)
    assert tuple(found.columns[:7]) == PUBLISHED
    assert found.height == 60 * 3
    assert found["expected_effect"].null_count() == 0
    assert (found["interval_low"] < found["expected_effect"]).all()
    assert found.filter(pl.col("episodes") == 0).height > 0
    assert (found["club_group"] != "any").all()


def test_a_student_new_to_the_drill_has_the_wider_interval(academy_rows: MakeRows) -> None:
    # Students differ by a shift of their own, so that having done the drill tells something.
    own = (pl.col("student_id").str.slice(1).cast(pl.Int64) % 5 - 2.0) * 1.2
    rows = academy_rows(students=80, visits=16).with_columns(
        post_centre=pl.when(pl.col("drill_id") == "B").then(pl.col("post_centre") + own).otherwise("post_centre")
    )
    width = (
        forecast(rows)
        .filter(drill_id="B")
        .with_columns(width=pl.col("interval_high") - pl.col("interval_low"), known=pl.col("episodes") >= 3)
    )
    assert width.filter("known")["width"].mean() < 0.97 * width.filter(pl.col("episodes") == 0)["width"].mean()  # type: ignore[operator]
    strong = width.filter(pl.col("known"), pl.col("student_id").str.slice(1).cast(pl.Int64) % 5 == 4)
    weak = width.filter(pl.col("known"), pl.col("student_id").str.slice(1).cast(pl.Int64) % 5 == 0)
    assert strong["expected_effect"].mean() > weak["expected_effect"].mean() + 0.5  # type: ignore[operator]


def test_intervals_hold_about_eight_in_ten_of_the_next_episodes(academy_rows: MakeRows) -> None:
    # Plumbing only: the academy is drawn by ourselves. Learn from the first ten visits, look at the two after.
    inside = []
    for seed in range(6):
        rows = academy_rows(seed=seed, students=80, visits=14)
        late = pl.col("begins_at") >= pl.lit(rows["begins_at"].max()) - pl.duration(days=20)
        told = forecast(rows.filter(~late))
        whole = rows.filter(pl.col("drill_id") == "B", late).join(told.filter(drill_id="B"), on="student_id")
        # What the maker's truth is without the drill: .7 today + .3 level + .2, seen through the pre block alone.
        free = rows.filter(pl.col("drill_id").is_null())
        means = rows.group_by("student_id").agg(level=pl.col("pre_centre").mean())
        learn = free.join(means, on="student_id")
        x = np.column_stack([np.ones(learn.height), learn["pre_centre"], learn["level"]])
        beta = np.linalg.lstsq(x, learn["post_centre"].to_numpy(), rcond=None)[0]
        seen = whole.join(means, on="student_id")
        beyond = seen["post_centre"].to_numpy() - np.column_stack(
            [np.ones(seen.height), seen["pre_centre"], seen["level"]]
        ) @ beta  # fmt: skip
        inside.append((seen["interval_low"].to_numpy() <= beyond) & (beyond <= seen["interval_high"].to_numpy()))
    assert np.concatenate(inside).mean() == pytest.approx(0.8, abs=0.06)


def test_a_wilder_student_has_a_wider_interval(academy_rows: MakeRows) -> None:
    wild = pl.col("student_id") == "S1"
    rows = academy_rows().with_columns(
        [pl.when(wild).then(pl.col(c) * 9).otherwise(c).alias(c) for c in ("pre_variance", "post_variance")]
    )
    found = forecast(rows).filter(drill_id="B", episodes=0).with_columns(
        width=pl.col("interval_high") - pl.col("interval_low")
    )  # fmt: skip
    other = forecast(academy_rows()).filter(drill_id="B", student_id="S1")
    width = (other["interval_high"] - other["interval_low"])[0]
    mine = forecast(rows).filter(drill_id="B", student_id="S1")
    assert (mine["interval_high"] - mine["interval_low"])[0] > 1.1 * width
    assert found["width"].min() > 0  # type: ignore[operator]


def test_without_free_practice_the_rows_say_why_there_is_no_number(academy_rows: MakeRows) -> None:
    found = forecast(academy_rows(free=False))
    assert found.height > 0
    assert found["expected_effect"].null_count() == found.height
    assert found["reason"].unique().to_list() == ["no free practice to compare with"]


def test_given_effects_are_used_and_an_empty_academy_gives_an_empty_frame(academy_rows: MakeRows) -> None:
    rows = academy_rows()
    effects = estimate(rows)
    shifted = effects.with_columns(pl.col("shrunk_effect", "shrunk_low", "shrunk_high") + 1.0)
    base, moved = forecast(rows, effects), forecast(rows, shifted)
    new = base["episodes"].to_numpy() == 0
    assert (moved["expected_effect"] - base["expected_effect"]).to_numpy()[new] == pytest.approx(1.0)
    assert dict(forecast(rows.clear()).schema) == SCHEMA
