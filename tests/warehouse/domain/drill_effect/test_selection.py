"""Balls that a bay did not measure, and what they could do to an effect."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from scipy import stats

from tests.warehouse.domain.drill_effect.test_verdict import CALM, CLEAR
from warehouse.domain.drill_effect import estimate, selection, verdict


@pytest.mark.parametrize("share", [0.05, 0.2, 0.4])
def test_the_shift_is_what_cutting_off_the_worst_balls_does_to_their_mean(share: float) -> None:
    values = stats.norm.ppf((np.arange(400_000) + 0.5) / 400_000, scale=3)
    kept = values[int(share * values.size) :]
    assert selection.trimmed_shift(share, 3.0) == pytest.approx(kept.mean(), rel=0.01)
    assert selection.trimmed_shift(0.0, 3.0) == 0


def row_of(rows: pl.DataFrame) -> dict:
    found = estimate(rows)
    return found.filter(drill_id="B", measure="centre", horizon="transfer", club_group="driver").row(0, named=True)


def test_a_drill_after_which_more_balls_are_lost_gets_the_wider_interval_and_others_stay(academy_rows) -> None:
    rows = academy_rows(students=80, visits=14).with_columns(
        pre_balls=pl.col("pre_shots") + 1, post_balls=pl.col("post_shots") + 1
    )
    lost = pl.when(pl.col("drill_id") == "B").then(pl.col("post_shots") * 1.25 + 1).otherwise("post_balls")
    calm, leaning = row_of(rows), row_of(rows.with_columns(post_balls=lost.cast(pl.Int64)))
    assert calm["selection_shift"] == 0
    assert leaning["measured_change"] < -0.1
    assert leaning["effect"] == pytest.approx(calm["effect"])
    assert leaning["ci_low"] == pytest.approx(calm["ci_low"] - leaning["selection_shift"])
    assert leaning["ci_high"] == pytest.approx(calm["ci_high"] + leaning["selection_shift"])
    assert "selection_shift" in estimate(rows).columns
    without = row_of(academy_rows(students=80, visits=14))
    assert without["selection_shift"] == 0
    assert without["ci_low"] == pytest.approx(calm["ci_low"])


def test_no_claim_stands_that_the_balls_lost_would_take_back() -> None:
    wrong = replace(CLEAR, better=-1)
    assert verdict.judge(wrong)[0] == "wrong way"
    assert verdict.judge(replace(wrong, selection_shift=1.7))[0] not in ("wrong way", "works", "helps")
    assert verdict.judge(replace(CLEAR, selection_shift=0.8))[0] == "helps"
    assert verdict.certainty(replace(CLEAR, selection_shift=0.1), CALM)[0] == "low"
