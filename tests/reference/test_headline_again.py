"""The engine's effects equal those of the independent statement to 1e-8, and every covariate of it is needed."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from tests.reference import headline
from tests.warehouse.domain.conftest import make_rows
from warehouse.domain.drill_effect import covariates
from warehouse.domain.drill_effect.headline import estimate
from warehouse.domain.statistics.block_summary import log_spread

TARGET = 1.5


def academy(metric: str = "club_path") -> pl.DataFrame:
    """Episode rows with what life has: left hands, bays of both sessions, second drills, exclusions, counted balls."""
    rng = np.random.default_rng(11)
    rows = make_rows(7, students=45, visits=12, effects={"A": 0.0, "B": 1.0, "C": 0.5}, metric=metric)
    n = rows.height
    rows = rows.with_columns(
        drill_shots=pl.when(pl.col("drill_id").is_not_null()).then(pl.Series(rng.integers(6, 25, n))),
        next_bay_id=pl.when(pl.col("next_centre").is_not_null()).then(
            pl.Series(np.char.add("B", rng.integers(0, 4, n).astype(str)))
        ),
        aim_direction=pl.when(pl.col("drill_id").is_not_null()).then(pl.lit("toward")),
        aim_metric=pl.when(pl.col("drill_id").is_not_null()).then(pl.lit(metric)),
        aim_target=pl.when(pl.col("drill_id").is_not_null()).then(pl.lit(TARGET)),
        excluded_reason=pl.Series(np.where(rng.random(n) < 0.04, "too few shots", "")),
    )
    rows = rows.with_columns(
        excluded_reason=pl.when(pl.col("student_id") == "S3")
        .then(pl.lit("no consent"))
        .when(pl.col("excluded_reason") != "")
        .then("excluded_reason")
    )
    second = rows.filter((pl.col("drill_id") == "A") & (pl.Series(rng.random(n)) < 0.3))
    again = second.with_columns(
        episode_id=pl.col("episode_id") + "b", drill_id=pl.lit("B"),
        begins_at=pl.col("begins_at") + dt.timedelta(minutes=20),
        pre_centre="post_centre", pre_shots="post_shots", pre_variance="post_variance", pre_spread="post_spread",
        post_centre=pl.col("post_centre") + pl.Series(rng.normal(0.8, 0.5, second.height)),
    )  # fmt: skip
    rows = rows.with_columns(followed_by_drill=pl.col("episode_id").is_in(second["episode_id"].to_list()))
    return pl.concat([rows, again]).sort("begins_at", "episode_id")


def as_stated(rows: pl.DataFrame, spread: bool = False) -> list[headline.Row]:
    """The same rows as the independent statement takes them."""
    opens = rows["begins_at"] == rows.select(pl.col("begins_at").min().over("session_id")).to_series()
    frame = rows.with_columns(
        opens_session=opens,
        opens=opens & (rows["excluded_reason"] != "no consent").fill_null(True),
        excluded=pl.col("excluded_reason").is_not_null(),
        day=pl.col("begins_at").dt.date().cast(pl.Int32),
        week=pl.col("week").cast(pl.Int32) / 7,
        pre=pl.col("pre_centre"), pre_error=pl.col("pre_variance"), post=pl.col("post_centre"),
        next=pl.col("next_centre"),
    )  # fmt: skip
    if spread:
        for block in ("pre", "post", "next"):
            shots = frame[f"{block}_shots"].cast(pl.Float64).fill_null(0).to_numpy()
            value, noise = log_spread(frame[f"{block}_spread"].fill_null(np.nan).to_numpy(), shots)
            frame = frame.with_columns(pl.Series(block, value).fill_nan(None))
            if block == "pre":
                frame = frame.with_columns(pl.Series("pre_error", noise))
    return frame.to_dicts()


@pytest.fixture(scope="module")
def rows() -> pl.DataFrame:
    return academy()


@pytest.fixture(scope="module")
def found(rows: pl.DataFrame) -> pl.DataFrame:
    return estimate(rows)


CASES = [
    (drill, measure, horizon)
    for drill in ("A", "B", "C")
    for measure in ("centre", "distance", "spread")
    for horizon in ("transfer", "retention")
]


def stated(rows: pl.DataFrame, drill: str, measure: str, horizon: str) -> headline.Found:
    return headline.effects(
        as_stated(rows, measure == "spread"), drill, horizon=horizon, mirrored=measure != "spread",
        target=TARGET if measure == "distance" else None, warms=measure != "spread",
    )  # fmt: skip


@pytest.mark.parametrize(("drill", "measure", "horizon"), CASES)
def test_the_engine_equals_the_independent_statement(
    rows: pl.DataFrame, found: pl.DataFrame, drill: str, measure: str, horizon: str
) -> None:
    row = found.filter(drill_id=drill, measure=measure, horizon=horizon).row(0, named=True)
    own = stated(rows, drill, measure, horizon)
    assert (row["episodes"], row["students"]) == (own.episodes, own.students)
    assert row["effect"] == pytest.approx(own.effect, abs=1e-8)
    assert row["standard_error"] == pytest.approx(own.error, abs=1e-8)
    assert row["df"] == pytest.approx(own.df, abs=1e-8)
    assert row["check_effect"] == pytest.approx(own.own_effect, abs=1e-8)
    assert row["check_error"] == pytest.approx(own.own_error, abs=1e-8)


def test_the_cases_hold_all_that_the_design_takes_account_of(rows: pl.DataFrame) -> None:
    alone = rows.filter((pl.col("kind") == "free_practice") & pl.col("coach_id").is_null())
    taught = rows.filter((pl.col("kind") == "free_practice") & pl.col("coach_id").is_not_null())
    assert taught["student_id"].n_unique() >= covariates.ENOUGH_LESSON_STUDENTS and alone.height > 50
    assert set(rows["handed"]) == {"left", "right"} and rows["next_bay_id"].n_unique() > 3
    drilled = rows.filter(pl.col("drill_id").is_not_null())["student_id"]
    assert len(set(drilled) & set(alone["student_id"])) > 20
    assert rows["followed_by_drill"].sum() > 5 and rows["excluded_reason"].drop_nulls().n_unique() == 2
