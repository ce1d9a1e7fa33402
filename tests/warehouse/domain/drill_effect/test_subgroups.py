"""Kinds of students compared in one model, luck held down."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import numpy as np
import polars as pl

from warehouse.domain.drill_effect.subgroups import CHARACTERISTICS, SCHEMA, subgroups

MakeRows = Callable[..., pl.DataFrame]


def people(count: int, seed: int = 0) -> pl.DataFrame:
    rng = np.random.default_rng(seed)
    return pl.DataFrame(
        {"student_id": [f"S{i}" for i in range(count)], "handed": ["left" if i % 4 == 0 else "right"
                                                                   for i in range(count)],
         "handicap": rng.uniform(2, 38, count),
         "born_on": [dt.date(int(y), 5, 1) for y in rng.integers(1955, 2012, count)]}
    )  # fmt: skip


def test_a_drill_that_works_for_left_handers_only_is_found_to_differ_by_hand(academy_rows: MakeRows) -> None:
    left = pl.col("student_id").str.slice(1).cast(pl.Int64) % 4 == 0
    rows = academy_rows(students=120, effects={"A": 0.0, "B": 0.0}).with_columns(
        post_centre=pl.when((pl.col("drill_id") == "B") & left).then(pl.col("post_centre") + 3).otherwise("post_centre")
    )
    found = subgroups(rows, people(120))
    hand = found.filter(drill_id="B", characteristic="handed")
    assert hand["finding"].unique().to_list() == ["differs"]
    assert hand.filter(level="left")["effect"][0] > 2
    assert hand.filter(level="right")["ci_low"][0] < 0.5
    assert (found.filter(drill_id="A")["finding"] != "differs").all()


def test_where_nothing_differs_the_rows_say_so(academy_rows: MakeRows) -> None:
    said = []
    for seed in range(6):
        found = subgroups(academy_rows(seed=seed, students=100), people(100, seed))
        said += found.group_by("drill_id", "characteristic").agg(pl.col("finding").first())["finding"].to_list()
    assert said.count("no difference found") >= 0.9 * len(said)


def test_p_values_hold_their_level_where_nothing_differs(academy_rows: MakeRows) -> None:
    p = []
    for seed in range(25):
        found = subgroups(academy_rows(seed=seed, students=70), people(70, seed))
        asked = found.group_by("drill_id", "characteristic").agg(pl.col("p_value").first())
        p += asked["p_value"].drop_nulls().to_list()
    assert len(p) > 150
    # 5% of about 190: within four binomial standard errors above.
    assert np.mean(np.array(p) < 0.05) < 0.05 + 4 * np.sqrt(0.05 * 0.95 / len(p))


def test_too_few_students_are_not_compared_and_every_characteristic_has_a_row(academy_rows: MakeRows) -> None:
    found = subgroups(academy_rows(students=8), people(8))
    assert set(found["characteristic"]) == set(CHARACTERISTICS)
    assert found["finding"].unique().to_list() == ["too few students to compare"]
    assert dict(subgroups(academy_rows().clear(), people(3)).schema) == SCHEMA


def test_unknown_handicaps_and_birthdays_leave_those_questions_out(academy_rows: MakeRows) -> None:
    blank = people(100).with_columns(handicap=pl.lit(None, pl.Float64), born_on=pl.lit(None, pl.Date))
    found = subgroups(academy_rows(students=100), blank)
    assert found.filter(characteristic="age")["finding"].unique().to_list() == ["too few students to compare"]
    assert "no difference found" in found.filter(characteristic="handed")["finding"].to_list()
