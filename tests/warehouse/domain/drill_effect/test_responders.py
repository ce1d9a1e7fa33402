"""Responders beside luck."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import polars as pl
import pytest

from warehouse.domain.drill_effect import responders
from warehouse.domain.drill_effect.headline import estimate

MakeRows = Callable[..., pl.DataFrame]


def test_variance_between_students_is_the_random_effects_moment_estimate() -> None:
    # Equal numbers: variance of means less noise / n (the one-way analysis of variance).
    own, n = np.array([1.0, 2.0, 4.0, 7.0]), np.full(4, 3.0)
    assert responders.between_variance(own, n, 1.5) == pytest.approx(own.var(ddof=1) - 0.5)


def test_a_students_response_is_shrunk_by_its_reliability() -> None:
    values = np.array([1.0, 1.2, 3.0, 3.4, -1.0, -1.4])
    found = responders.respond(values, np.array([0, 0, 1, 1, 2, 2]), float(values.mean()), 0.0, 0.2)
    kept = found.between / (found.between + 0.1)
    assert found.response == pytest.approx(values.mean() + kept * (np.array([1.1, 3.2, -1.2]) - values.mean()))
    assert found.deviation == pytest.approx(np.sqrt(found.between * (1 - kept)))


def test_where_nobody_differs_nobody_is_listed_and_luck_is_no_better(academy_rows: MakeRows) -> None:
    found = estimate(academy_rows(students=90, effects={"A": 0.0, "B": 0.0}))
    rows = found.filter(measure="centre", horizon="transfer")
    assert rows["responder_share"].max() == 0
    assert (rows["free_practice_responder_share"] <= 0.02).all()


def test_where_all_respond_by_twice_what_matters_most_are_listed_and_luck_lists_few(academy_rows: MakeRows) -> None:
    row = estimate(academy_rows(students=90, effects={"A": 0.0, "B": 2.5})).filter(
        drill_id="B", measure="centre", horizon="transfer"
    )  # fmt: skip
    assert row["responder_share"][0] > 0.9
    assert row["free_practice_responder_share"][0] < 0.05


def test_students_stand_beside_the_strip_that_luck_gives_and_no_name_is_in_it(academy_rows: MakeRows) -> None:
    found = responders.student_response(academy_rows())
    luck, mine = found.filter(strip="free_practice"), found.filter(strip="drill")
    assert luck["student_id"].null_count() == luck.height > 0
    assert mine["student_id"].null_count() == 0
    assert mine.filter(pl.col("episodes") < 2)["responder"].null_count() == mine.filter(pl.col("episodes") < 2).height
    assert (luck["episodes"] >= 2).all()
    assert (mine["response_low"] <= mine["response"]).all()
    assert dict(responders.student_response(academy_rows().clear()).schema) == responders.RESPONSE_SCHEMA
