"""SQL models against an independent calculation, where rows in a file would be too many."""

from __future__ import annotations

import hashlib
from datetime import datetime, timedelta

import duckdb
import numpy as np
import polars as pl
import pytest
from scipy import stats

from warehouse.build import run
from warehouse.build.model import models
from warehouse.schema import entered, raw
from warehouse.schema.registry import macros
from warehouse.settings import settings

DAY = datetime(2026, 3, 2)


@pytest.fixture
def warehouse():
    """An empty warehouse in memory, with one site."""
    with duckdb.connect() as connection:
        connection.execute("set timezone = 'UTC'")
        for schema in ("raw", "stage", "core", "mart", "ops"):
            connection.execute(f"create schema {schema}")
        for table in (*raw.TABLES, *entered.TABLES):
            connection.execute(table.ddl())
        for macro in macros(temporary=True):
            connection.execute(macro)
        run.prepare(connection, settings.Settings())
        yield connection


def put(connection: duckdb.DuckDBPyConnection, table: str, rows: pl.DataFrame) -> None:
    """Add rows to a table; columns not given are null."""
    connection.register("given_rows", rows)
    connection.execute(f"insert into {table} by name from given_rows")
    connection.unregister("given_rows")


def made(connection: duckdb.DuckDBPyConnection, *names: str) -> pl.DataFrame:
    """Run models and return the last one's rows."""
    for name in names:
        run.run_model(connection, models()[name], settings.Settings())
    return connection.execute(f"from {names[-1]}").pl()


def tukey_mclaughlin(values: np.ndarray) -> tuple[float, float, float]:
    """Return the 10% trimmed mean, its error variance and the winsorised SD.

    Tukey & McLaughlin 1963: with g trimmed a side, variance = winsorised variance / (n (1 - 2 g / n)^2). The trimmed
    mean and the winsorised values are scipy's.
    """
    n, trimmed = len(values), len(values) // 10
    winsorised = np.asarray(stats.mstats.winsorize(values, limits=(trimmed / n, trimmed / n)))
    variance = winsorised.var(ddof=1)
    return stats.trim_mean(values, 0.1), variance / (n * (1 - 2 * trimmed / n) ** 2), np.sqrt(variance)


def test_a_block_is_the_trimmed_mean_and_winsorised_variance_that_scipy_gives(warehouse) -> None:
    random = np.random.default_rng(7)
    blocks = {f"s{n}": random.standard_t(3, n) * 2 + 1 for n in range(2, 48)}
    put(warehouse, "core.shot", pl.concat([
        pl.DataFrame({"session_id": session, "attack_angle": values}).with_columns(
            night=pl.lit(DAY.date()), student_id=pl.lit("R"), bay_id=pl.lit("B"), segment=pl.lit(0),
            club=pl.lit("driver"), club_group=pl.lit("driver"), usable=pl.lit(True))
        for session, values in blocks.items()
    ]))  # fmt: skip
    warehouse.execute("create or replace table stage.night as select date '2026-03-02' as night")
    found = {row["session_id"]: row for row in made(warehouse, "core.block").iter_rows(named=True)}
    for session, values in blocks.items():
        row = found[session]
        assert row["shots"] == len(values)
        assert (row["centre"], row["variance"], row["spread"]) == pytest.approx(tukey_mclaughlin(values), rel=1e-9)


def splits(warehouse, sessions: list[str]) -> dict[str, int]:
    """Return split_after of drill-free sessions."""
    warehouse.execute("create or replace table stage.drill_interval (lesson_id varchar)")
    warehouse.execute(
        "create or replace table stage.drill_timing (lesson_id varchar, position int, read_starts_at timestamp)"
    )
    shots = pl.DataFrame({"session_id": sessions}).with_columns(
        lesson_id=pl.col("session_id"), club=pl.lit("driver"), struck_at_local=pl.lit(DAY), path=pl.lit("p"),
        line=pl.lit(2), mishit=pl.lit(False), in_drill=pl.lit(False), set_aside_reason=pl.lit(None, pl.String),
    )  # fmt: skip
    warehouse.register("given_shots", shots)
    warehouse.execute("create or replace table stage.session_shot as from given_shots")
    return dict(made(warehouse, "stage.session_split").select("session_id", "split_after").iter_rows())


def test_a_split_is_fixed_by_the_sessions_id_alone_and_lies_between_6_and_24(warehouse) -> None:
    sessions = [f"practice {number:05} 07 2026-03-02 10:00:00" for number in range(2000)]
    together = splits(warehouse, sessions)
    assert set(together.values()) == set(range(6, 25))
    assert splits(warehouse, sessions[700:740]) == {session: together[session] for session in sessions[700:740]}
    counts = np.bincount(list(together.values()))[6:]
    assert stats.chisquare(counts).pvalue > 0.001


def test_a_split_is_the_lower_half_of_the_ids_md5_so_that_no_engine_may_change_it(warehouse) -> None:
    sessions = ["000001", "practice 0133 04 2026-01-05 09:00:00", "Übung 7"]
    expected = {
        session: 6 + int.from_bytes(hashlib.md5(session.encode()).digest()[8:], "little") % 19 for session in sessions
    }
    assert splits(warehouse, sessions) == expected


def clocks(warehouse, ahead: dict[str, int], named: bool) -> dict[str, tuple]:
    """Return (ahead_seconds, out_of_step) by bay; lessons of an hour, two in a row, bays' clocks ahead by so much."""
    random = np.random.default_rng(3)
    put(warehouse, "raw.site", pl.DataFrame({"site_id": ["S"], "timezone": ["UTC"], "altitude_m": [0.0]}))
    put(warehouse, "raw.bay", pl.DataFrame({"bay_id": list(ahead)}).with_columns(site_id=pl.lit("S")))
    students = [f"P{number}" for number in range(6)]
    put(warehouse, "raw.student", pl.DataFrame({"student_id": students}).with_columns(handed=pl.lit("right")))
    lessons, shots = [], []
    for bay_id, seconds in ahead.items():
        for number in range(40):
            start = DAY + timedelta(days=number // 4, hours=9 + (number % 4) + number % 4 // 2)
            lesson = f"{bay_id} {number}"
            student = students[number % 6]
            lessons.append((lesson, student, bay_id, start, start + timedelta(hours=1)))
            first, last = 90 + 60 * random.standard_exponential(), 3600 - 120 - 60 * random.standard_exponential()
            for at in np.linspace(first, max(last, first + 60), 40):
                struck = start + timedelta(seconds=float(at) + seconds)
                shots.append((struck.date(), bay_id, f"{bay_id}.csv", len(shots) + 2, struck, struck,
                              student if named else None))  # fmt: skip
    put(warehouse, "raw.lesson", pl.DataFrame(
        lessons, ["lesson_id", "student_id", "bay_id", "starts_at", "ends_at"], orient="row"))  # fmt: skip
    put(warehouse, "raw.shot", pl.DataFrame(
        shots, {"night": pl.Date, "bay_id": pl.String, "path": pl.String, "line": pl.Int64, "struck_at": pl.Datetime,
                "struck_at_local": pl.Datetime, "student_id": pl.String}, orient="row").with_columns(
        club=pl.lit("driver"), ball_speed=pl.lit(60.0)))  # fmt: skip
    warehouse.execute("create or replace table stage.night as select distinct night from raw.shot")
    warehouse.execute(
        "create or replace table stage.shot_flight as select row_number() over () as shot_number, "
        "null::double as air_density, null::double as model_carry, null as model_spin, null::double as standard_carry, "
        "null::double as carry_available from raw.shot"
    )
    found = made(
        warehouse, "stage.attributed_shot", "stage.set_aside", "stage.logged_drill", "stage.drill_timing",
        "stage.drill_interval", "stage.session_shot", "stage.session_split", "stage.shot_place",
        "stage.bay_fault", "core.shot", "mart.bay_clock",
    )  # fmt: skip
    return {row["bay_id"]: (row["ahead_seconds"], row["out_of_step"]) for row in found.iter_rows(named=True)}


@pytest.mark.parametrize("named", [True, False])
@pytest.mark.parametrize("seconds", [180, -180])
def test_a_bay_clock_three_minutes_off_is_estimated_within_45_seconds_and_said(warehouse, seconds, named) -> None:
    found = clocks(warehouse, {"A": 0, "B": seconds, "C": 0, "D": 0, "E": 0}, named)
    assert found["B"][0] == pytest.approx(seconds, abs=45)
    assert [bay for bay, (_, out_of_step) in found.items() if out_of_step] == ["B"]
    assert all(abs(found[bay][0]) < 45 for bay in "ACDE")


def test_a_bay_with_under_ten_lessons_gets_no_estimate(warehouse) -> None:
    put(warehouse, "raw.bay", pl.DataFrame({"bay_id": ["A"], "site_id": ["S"]}))
    assert made(warehouse, "mart.bay_clock").rows() == [("A", 0, None, 0.0, False)]
