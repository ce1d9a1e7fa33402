"""Planning from a file made with known variances, visits and uses."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import duckdb
import numpy as np
import polars as pl
import pytest

from warehouse.domain.trials.power import CURVE, Design
from warehouse.domain.trials.value_of_information import CANDIDATE
from warehouse.trials import planning

WITHIN, BETWEEN, STUDENTS, DRIFT, SHOTS = 9.0, 1.0, 5.0, 0.4, 12
LAST = date(2026, 3, 29)


def published(students: int = 150, visits: int = 12) -> duckdb.DuckDBPyConnection:
    """One lesson a week of each student, drill-free, in two halves; half of the students not in evidence."""
    rng = np.random.default_rng(4)
    firsts: list[list[Any]] = []
    episodes: list[list[Any]] = []
    metrics: list[list[Any]] = []
    for i in range(students):
        level = rng.normal(0, np.sqrt(STUDENTS))
        for j in range(visits):
            night, today = LAST - timedelta(days=7 * j), level + rng.normal(0, np.sqrt(BETWEEN))
            one, two = today + rng.normal(0, np.sqrt(DRIFT + WITHIN / SHOTS), 2)
            error = WITHIN / SHOTS * rng.chisquare(SHOTS - 1) / (SHOTS - 1)
            firsts.append([f"s{i}", "driver", "driver", "attack_angle", night, one, error, SHOTS, False, True])
            episodes.append([f"e{i}-{j}", "free_practice", None, "driver", night])
            metrics.append([f"e{i}-{j}", "attack_angle", one, two, error, error, None])
    drills = [[f"d{k}", "drill", "D01", "driver", LAST - timedelta(days=k % 60)] for k in range(60)]
    made = {
        "core.first_block": (firsts, "student_id club club_group metric night centre variance shots drilled coached"),
        "core.drill_episode": (episodes + drills, "episode_id kind drill_id club_group night"),
        "core.episode_metric": (
            metrics, "episode_id metric pre_centre post_centre pre_variance post_variance excluded_reason",
        ),
        "core.session": ([[LAST]], "night"),
        "mart.student": ([[f"s{i}", i % 2 == 0] for i in range(students)], "student_id in_evidence"),
        "mart.drill_forecast": (
            [["s0", "D01", "attack_angle", "centre", "driver", 1.0]],
            "student_id drill_id metric measure club_group gap",
        ),
        "mart.drill_effect": (
            [["D01", "attack_angle", "centre", "driver", "transfer", True, "up", 1.0, "unclear", 0.2, -1.0, 1.4]],
            "drill_id metric measure club_group horizon is_aim better matters_from verdict shrunk_effect shrunk_low "
            "shrunk_high",
        ),
    }  # fmt: skip
    con = duckdb.connect()
    con.execute("create schema core")
    con.execute("create schema mart")
    for table, (rows, columns) in made.items():
        frame = pl.DataFrame(rows, schema=columns.split(), orient="row", infer_schema_length=None)
        con.register("made", frame.with_columns(pl.col(pl.Null).cast(pl.String)))
        con.execute(f"create table {table} as select * from made")
    return con


@pytest.fixture(scope="module")
def con() -> duckdb.DuckDBPyConnection:
    return published()


def test_the_academys_own_spread_is_found_again(con: duckdb.DuckDBPyConnection) -> None:
    got = planning.spread_of(con, "attack_angle", "driver")
    # 150 students, 1800 sessions: within 2%, sessions and drift 10%, students 25% (three standard errors and more).
    assert got.within == pytest.approx(WITHIN, rel=0.05)
    assert got.between_sessions == pytest.approx(BETWEEN, rel=0.2)
    assert got.between_students == pytest.approx(STUDENTS, rel=0.4)
    assert got.drift == pytest.approx(DRIFT, rel=0.3)


def test_candidates_are_those_in_evidence_with_their_own_pace(con: duckdb.DuckDBPyConnection) -> None:
    rows = planning.candidates(con, "attack_angle", "driver")
    assert rows.height == 75 and rows["per_week"].to_list() == pytest.approx([1.0] * 75)


def test_a_plan_says_students_weeks_and_what_a_thin_one_would_not_tell(con: duckdb.DuckDBPyConnection) -> None:
    plan = planning.plan_of(con, "attack_angle", "driver", 1.5, Design())
    assert list(plan["curve"].schema.items()) == list(CURVE.items())
    assert plan["students"] % 2 == 0 and plan["candidates"] == 75
    assert f"{plan['students']} students, 1 episode each" in plan["sentence"] and "pace" in plan["sentence"]
    thin = planning.plan_of(con, "attack_angle", "driver", 0.3, Design())
    assert thin["weeks"] is None and "nothing of smaller ones" in thin["sentence"]


def test_where_nothing_is_known_a_plan_is_refused(con: duckdb.DuckDBPyConnection) -> None:
    with pytest.raises(ValueError, match="too few"):
        planning.plan_of(con, "carry", "driver", 4.5, Design())


def test_what_next_counts_recent_uses_by_club_group(con: duckdb.DuckDBPyConnection) -> None:
    rows = planning.what_next(con, design=Design(kind="crossover"))
    assert rows.columns == list(CANDIDATE)
    first = rows.row(0, named=True)
    assert (first["rank"], first["drill_id"], first["against"]) == (1, "D01", "free practice")
    assert first["uses_per_week"] == pytest.approx(60 / planning.RECENT_WEEKS)
    assert first["students"] and first["weeks"]
    assert "too few students come here" in planning.what_next(con)["reason"][0]
    assert planning.what_next(con, frozenset({"D01"}))["reason"].to_list() == ["D01 is held"]
