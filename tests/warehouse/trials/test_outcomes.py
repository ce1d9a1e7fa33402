"""From the published file to a trial's answer: who did what, what was measured, and the planted difference found."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import polars as pl
import pytest

from warehouse.domain.trials.consort_flow import TAKEN_OUT
from warehouse.domain.trials.estimate import PARTICIPANT, PERIOD
from warehouse.domain.trials.randomisation import FREE_PRACTICE, ORDER_MARK
from warehouse.erasure.notebook import forget_entries
from warehouse.notebook.store import Store
from warehouse.schema.registry import TABLES as DECLARED
from warehouse.trials import book, outcomes, snapshot
from warehouse.trials.drawn import given_up
from warehouse.trials.plan import Plan

DAY = date(2026, 3, 2)
PLAN = Plan(
    trial_id="T1", title="A drill for attack angle", kind="parallel", horizon="transfer",
    treatments=(FREE_PRACTICE, "D01"), metric="attack_angle", measure="centre", club_group="driver", better=1,
    matters_from=1.0, students=40, episodes=2, weeks=9, gap_middle=2.0,
)  # fmt: skip
EFFECT, STUDENTS = 2.0, 40


def enter_all(store: Store, home: Path, plan: Plan) -> dict[str, str]:
    """Begin a trial, enter everybody, and return the lots by student."""
    book.begin(store, home, plan, begun_on=DAY, by="director")
    lots = {}
    for i in range(STUDENTS):
        book.agree(store, trial_id="T1", student_id=f"s{i}", agreed_by="student", agreed_on=DAY, by="coach")
        lots[f"s{i}"] = book.enter_and_draw(
            store, home, trial_id="T1", student_id=f"s{i}", site_id="S1", starting_gap=float(i % 4), minor=False,
            consent=True, on=DAY, by="coach",
        ).arm  # fmt: skip
    return lots


def published(done: dict[str, list[str]], seed: int = 1, start: date = DAY) -> duckdb.DuckDBPyConnection:
    """A file with two episodes of each treatment a student did, from the day of entry on, and blocks before it."""
    rng = np.random.default_rng(seed)
    episodes: list[list[Any]] = []
    metrics: list[list[Any]] = []
    firsts: list[list[Any]] = []
    for i, (student, treatments) in enumerate(done.items()):
        level = rng.normal(-3, 2)
        firsts.append([student, "driver", "driver", "attack_angle", start - timedelta(days=7), level])
        for j, treatment in enumerate(t for t in treatments for _ in range(2)):
            day, gain = start + timedelta(days=2 * j), EFFECT * (treatment == "D01")
            name, today = f"e{i}-{j}", level + rng.normal(0, 0.5)
            free = treatment == FREE_PRACTICE
            episodes.append([name, student, None if free else treatment, "driver", "driver", day,
                             datetime(day.year, day.month, day.day, 10), name])  # fmt: skip
            metrics.append([name, "attack_angle", today, today + gain + rng.normal(0, 0.5),
                            level + gain / 2 + rng.normal(0, 0.5), 1, None])  # fmt: skip
    con = duckdb.connect()
    con.execute("create schema core")
    made = {
        "drill_episode": (episodes, "episode_id student_id drill_id club club_group night begins_at session_id"),
        "episode_metric": (metrics, "episode_id metric pre_centre post_centre next_centre next_days excluded_reason"),
        "first_block": (firsts, "student_id club club_group metric night centre"),
    }
    for table, (rows, columns) in made.items():
        frame = pl.DataFrame(rows, schema=columns.split(), orient="row", infer_schema_length=None)
        text = [name for name in frame.columns if frame[name].dtype == pl.Null]
        con.register("made", frame.with_columns(pl.col(text).cast(pl.String)))
        con.execute(f"create table core.{table} as select * from made")
    con.execute(DECLARED["core.free_arm"].ddl())
    con.execute("create schema ops; create table ops.publication as select date '2026-04-30' as through_night")
    return con


def as_drawn(result: pl.DataFrame) -> dict[str, Any]:
    return result.row(by_predicate=pl.col("analysis") == "as drawn", named=True)


def near(found: dict[str, Any], truth: float) -> bool:
    """Within four and a half standard errors: lots are random anew each time; a fair draw must not fail the test."""
    return abs(found["effect"] - truth) < 4.5 * found["standard_error"] < 1.5


def test_a_planted_difference_comes_through_the_whole_chain(store: Store, tmp_path: Path) -> None:
    lots = enter_all(store, tmp_path, PLAN)
    con = published({student: [arm] for student, arm in lots.items()})
    rows = outcomes.participants(store, con, "T1")
    assert list(rows.schema.items()) == list(PARTICIPANT.items()) and rows.height == STUDENTS
    assert (rows["done"] == rows["arm"]).all()
    found = as_drawn(outcomes.result(store, con, "T1"))
    assert near(found, EFFECT) and found["randomisation_p"] < 0.01
    flow = outcomes.flow_of(store, "T1", outcomes.participants(store, con, "T1"))
    assert flow.filter(pl.col("step") == "analysed")["students"].sum() == STUDENTS


def test_retention_reads_the_next_session(store: Store, tmp_path: Path) -> None:
    lots = enter_all(store, tmp_path, replace(PLAN, horizon="retention"))
    con = published({student: [arm] for student, arm in lots.items()})
    found = as_drawn(outcomes.result(store, con, "T1"))
    assert near(found, EFFECT / 2)


def test_distance_is_taken_on_the_side_of_earlier_days(store: Store, tmp_path: Path) -> None:
    lots = enter_all(store, tmp_path, replace(PLAN, measure="distance", target=5.0, better=-1))
    con = published({student: [arm] for student, arm in lots.items()})
    # Everybody starts below the target of 5, so rising by 2 shortens the distance by 2.
    found = as_drawn(outcomes.result(store, con, "T1"))
    assert near(found, -EFFECT)


def test_who_did_something_else_is_analysed_as_drawn_and_named_as_done(store: Store, tmp_path: Path) -> None:
    lots = enter_all(store, tmp_path, replace(PLAN, treatments=("D02", "D01")))
    done = {student: [arm] for student, arm in lots.items()}
    moved = [student for student, arm in lots.items() if arm == "D02"][:5]
    done |= {student: ["D01"] for student in moved}
    rows = outcomes.participants(store, published(done), "T1")
    there = rows.filter(pl.col("student_id").is_in(moved))
    assert set(there["arm"]) == {"D02"} and set(there["done"]) == {"D01"} and there["outcome"].null_count() == 0
    result = outcomes.result(store, published(done), "T1")
    effects = dict(result.select("analysis", "effect").iter_rows())
    assert effects["as drawn"] < effects["as done"]


def test_free_practice_is_what_was_done_only_of_those_drawn_to_it(store: Store, tmp_path: Path) -> None:
    lots = enter_all(store, tmp_path, PLAN)
    con = published({student: [FREE_PRACTICE, arm] if arm == "D01" else [arm] for student, arm in lots.items()})
    rows = outcomes.participants(store, con, "T1")
    assert (rows["done"] == rows["arm"]).all()


def test_who_took_the_agreement_back_or_came_no_more_counts_as_missing(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lots = enter_all(store, tmp_path, PLAN)
    book.take_back(store, trial_id="T1", student_id="s3", by="student")
    # Taken back on the day of entry: nothing had been measured.
    on_the_day = pl.lit(datetime(2026, 3, 2))
    monkeypatch.setattr(outcomes, "given_up", lambda rows: given_up(rows).with_columns(given_up_at=on_the_day))
    con = published({student: [arm] for student, arm in lots.items() if student != "s5"})
    rows = outcomes.participants(store, con, "T1")
    assert rows.filter(pl.col("outcome").is_null())["student_id"].sort().to_list() == ["s3", "s5"]
    assert as_drawn(outcomes.result(store, con, "T1"))["missing"] == 2


def test_who_was_forgotten_stays_drawn_in_the_flow_and_is_not_measured(store: Store, tmp_path: Path) -> None:
    lots = enter_all(store, tmp_path, PLAN)
    con = published({student: [arm] for student, arm in lots.items()})
    before = outcomes.flow_of(store, "T1", outcomes.participants(store, con, "T1"))
    forget_entries(str(store.engine.url), "s3", set())
    after = outcomes.flow_of(store, "T1", outcomes.participants(store, con, "T1"))
    whole = pl.col("what").is_null() & pl.col("step").is_in(["assessed", "drawn"])
    assert after.filter(whole).equals(before.filter(whole))
    gone = after.filter(pl.col("what") == TAKEN_OUT)
    assert gone.rows() == [("done", lots["s3"], TAKEN_OUT, 1), ("followed", lots["s3"], TAKEN_OUT, 1)]
    counted = after.filter((pl.col("step") == "followed") & (pl.col("arm") == lots["s3"]))["students"].sum()
    assert counted == after.filter((pl.col("step") == "drawn") & (pl.col("arm") == lots["s3"]))["students"].item()


def test_what_was_done_before_entry_does_not_count(store: Store, tmp_path: Path) -> None:
    lots = enter_all(store, tmp_path, PLAN)
    con = published({student: [arm] for student, arm in lots.items()}, start=DAY - timedelta(days=30))
    assert outcomes.participants(store, con, "T1")["outcome"].null_count() == STUDENTS
    assert (
        as_drawn(outcomes.result(store, con, "T1"))["reason"] == "0 of 5 students with an outcome in the smaller group"
    )


def test_a_crossover_compares_each_student_with_themselves(store: Store, tmp_path: Path) -> None:
    lots = enter_all(store, tmp_path, replace(PLAN, kind="crossover", treatments=("D02", "D01")))
    con = published({student: arm.split(ORDER_MARK) for student, arm in lots.items()})
    rows = outcomes.participants(store, con, "T1")
    assert list(rows.schema.items()) == list(PERIOD.items()) and rows.height == 2 * STUDENTS
    assert rows.group_by("arm", "period").len()["len"].to_list() == pytest.approx([STUDENTS / 2] * 4, abs=6)
    found = as_drawn(outcomes.result(store, con, "T1"))
    assert near(found, EFFECT) and found["students"] == STUDENTS


def test_what_was_measured_before_a_withdrawal_stays(store: Store, tmp_path: Path) -> None:
    lots = enter_all(store, tmp_path, PLAN)
    con = published({student: [arm] for student, arm in lots.items()})
    before = outcomes.participants(store, con, "T1")
    book.take_back(store, trial_id="T1", student_id="s3", by="student")  # today, long after the episodes
    assert outcomes.participants(store, con, "T1").equals(before)


def test_an_episode_past_the_plans_days_is_not_the_lots_own(store: Store, tmp_path: Path) -> None:
    lots = enter_all(store, tmp_path, replace(PLAN, outcome_days=14))
    late = published({student: [arm] for student, arm in lots.items()}, start=DAY + timedelta(days=14))
    assert outcomes.participants(store, late, "T1")["outcome"].null_count() == STUDENTS
    in_time = published({student: [arm] for student, arm in lots.items()}, start=DAY + timedelta(days=11))
    assert outcomes.participants(store, in_time, "T1")["outcome"].null_count() == 0


def test_nothing_measured_after_the_end_is_an_outcome(store: Store, tmp_path: Path) -> None:
    lots = enter_all(store, tmp_path, PLAN)
    book.end(store, tmp_path, trial_id="T1", on=DAY, by="director")
    con = published({student: [arm] for student, arm in lots.items()}, start=DAY + timedelta(days=1))
    assert outcomes.participants(store, con, "T1")["outcome"].null_count() == STUDENTS


def test_a_finished_trial_reads_the_same_whatever_is_entered_or_measured_later(store: Store, tmp_path: Path) -> None:
    lots = enter_all(store, tmp_path, PLAN)
    con = published({student: [arm] for student, arm in lots.items()})
    book.end(store, tmp_path, trial_id="T1", on=DAY + timedelta(days=30), by="director")
    frozen = snapshot.freeze(store, con, "T1", "director")
    assert frozen.intact and snapshot.changed_since(store, con, "T1", frozen) == 0
    other = published({student: [arm] for student, arm in lots.items()}, seed=2)
    book.take_back(store, trial_id="T1", student_id="s3", by="student")
    again = snapshot.freeze(store, other, "T1", "director")
    assert again.content_hash == frozen.content_hash
    assert again.participants.equals(frozen.participants) and again.result.equals(frozen.result)
    assert snapshot.changed_since(store, other, "T1", again) == STUDENTS
    assert not set(frozen.participants["student_id"]) & set(lots)
    forget_entries(str(store.engine.url), "s3", set())
    assert snapshot.freeze(store, other, "T1", "director").result.equals(frozen.result)
