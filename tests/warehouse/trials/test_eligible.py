"""Who may take part: cohorts by the day of entry, goals by the notebook, refused in words and counted in the flow."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path

import duckdb
import pytest

from tests.warehouse.trials.test_book import DAY, PLAN
from tests.warehouse.trials.test_planning import published
from warehouse.build.model import models
from warehouse.domain.trials.power import Design
from warehouse.notebook import actions
from warehouse.notebook.store import NotebookRefused, Store, current, history
from warehouse.schema.registry import TABLES as DECLARED
from warehouse.trials import book, eligible, follow, outcomes, planning
from warehouse.trials.plan import Plan

SPRING = replace(PLAN, cohorts=("Spring", "Adults"))
GOAL = replace(PLAN, goal=True)
TABLES = """
create schema raw; create schema mart;
create table raw.student (student_id varchar, cohort varchar, joined_on date);
create table raw.enrolment (student_id varchar, cohort varchar, from_date date, to_date date);
insert into raw.student values ('s1', 'Spring', '2026-01-01'), ('s2', 'Spring', '2026-01-01'),
    ('s3', null, '2026-01-01');
insert into raw.enrolment values ('s2', 'Winter', '2026-01-10', '2026-03-01'), ('s2', 'Adults', '2026-03-03', null);
"""


@pytest.fixture
def con() -> Iterator[duckdb.DuckDBPyConnection]:
    """s1 is in Spring by the student table, s2 by enrolments only (Winter, then Adults from 3 March), s3 in none."""
    with duckdb.connect() as connection:
        for statement in TABLES.split(";\n"):
            connection.execute(statement)
        connection.execute(f"create table mart.cohort_member as {models()['mart.cohort_member'].select()}")
        yield connection


def goal(store: Store, student: str, metric: str) -> None:
    actions.set_goal(
        store, student_id=student, words="Better", metric=metric, club_group="driver", target=1.0, by="coach"
    )


def enter(store: Store, home: Path, con: duckdb.DuckDBPyConnection, student: str, on: date = DAY) -> None:
    book.agree(store, trial_id="T1", student_id=student, agreed_by="student", agreed_on=DAY, by="coach")
    book.enter_and_draw(
        store, home, trial_id="T1", student_id=student, site_id="S1", starting_gap=1.0, minor=False, consent=True,
        on=on, by="coach", member_of=eligible.memberships(con, student),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("student", "on", "said"),
    [
        ("s1", date(2026, 3, 2), None),
        ("s1", date(2025, 12, 31), "in no cohort"),
        ("s2", date(2026, 3, 1), "in Winter since 2026-01-10"),
        ("s2", date(2026, 3, 2), "on 2026-03-02 the student is in no cohort (enrolments count before"),
        ("s2", date(2026, 3, 3), None),
        ("s3", date(2026, 3, 3), "the trial is for Spring or Adults"),
    ],
)
def test_membership_is_that_of_the_day_and_enrolments_count_before_the_student_table(con, student, on, said) -> None:
    why = eligible.why_not(SPRING, student, eligible.memberships(con, student), None, on)
    assert (why is None) if said is None else (why.reason == "cohort" and said in why.sentence)


def test_the_latest_goal_in_the_notebook_decides(store: Store) -> None:
    goal(store, "s1", "attack_angle")
    goal(store, "s1", "club_path")
    goal(store, "s2", "attack_angle")
    goals = eligible.goals(store)
    assert eligible.why_not(GOAL, "s2", eligible.NO_MEMBERSHIP, goals["s2"], DAY) is None
    other = eligible.why_not(GOAL, "s1", eligible.NO_MEMBERSHIP, goals["s1"], DAY)
    assert other.reason == "goal" and "goal is attack angle, and on 2026-03-02 the student's goal is club path" in (
        other.sentence
    )
    assert "is not in the notebook" in eligible.why_not(GOAL, "s3", eligible.NO_MEMBERSHIP, None, DAY).sentence


def test_who_is_outside_is_refused_with_the_day_draws_nothing_and_is_kept_once(store, con, tmp_path) -> None:
    book.begin(store, tmp_path, SPRING, begun_on=DAY, by="director")
    for _ in range(2):
        with pytest.raises(NotebookRefused, match="on 2026-03-02 the student is in no cohort"):
            enter(store, tmp_path, con, "s2")
    assert current(store, "trial_participant").is_empty() and current(store, "trial_lot").is_empty()
    kept = history(store, eligible.INELIGIBLE)
    assert kept.select("student_id", "reason", "on_date").rows() == [("s2", "cohort", DAY)]


def test_a_plan_without_cohorts_asks_no_membership(store: Store, con, tmp_path: Path) -> None:
    book.begin(store, tmp_path, PLAN, begun_on=DAY, by="director")
    enter(store, tmp_path, con, "s3")
    assert current(store, "trial_lot").height == 1


def flow_tables(con: duckdb.DuckDBPyConnection) -> None:
    con.execute("create schema core")
    for name in ("core.drill_episode", "core.episode_metric", "core.first_block", "core.free_arm"):
        con.execute(DECLARED[name].ddl())


def test_those_looked_at_who_may_not_take_part_are_assessed_and_not_eligible(store, con, tmp_path) -> None:
    flow_tables(con)
    book.begin(store, tmp_path, SPRING, begun_on=DAY, by="director")
    enter(store, tmp_path, con, "s1")
    for student in ("s2", "s3"):
        with pytest.raises(NotebookRefused):
            enter(store, tmp_path, con, student)
    flow = outcomes.flow_of(store, "T1", outcomes.participants(store, con, "T1"))
    assert flow.head(3).rows() == [
        ("assessed", None, None, 3), ("not eligible", None, eligible.REASONS["cohort"], 2), ("drawn", None, None, 1),
    ]  # fmt: skip
    state = follow.state(store, con, "T1", DAY)
    assert (state.open_to, state.ineligible) == ("students in Spring or Adults on the day of entry", 2)
    # Once in a cohort of the trial, s2 is drawn and counts as that only.
    enter(store, tmp_path, con, "s2", on=date(2026, 3, 3))
    flow = outcomes.flow_of(store, "T1", outcomes.participants(store, con, "T1"))
    assert flow.head(3)["students"].to_list() == [3, 1, 2]
    assert follow.state(store, con, "T1", DAY).ineligible == 1


def test_a_cohort_that_is_not_there_and_a_goal_that_nobody_has_are_said(store: Store, con) -> None:
    with pytest.raises(ValueError, match="no cohort Autumn; cohorts: Adults, Spring, Winter"):
        eligible.among(store, con, "attack_angle", ["Autumn"], False, DAY)
    with pytest.raises(ValueError, match="nobody's goal in the notebook is attack angle"):
        eligible.among(store, con, "attack_angle", [], True, DAY)
    with pytest.raises(ValueError, match="nobody is in Adults on 2026-03-02"):
        eligible.among(store, con, "attack_angle", ["Adults"], False, DAY)
    goal(store, "s2", "attack_angle")
    with pytest.raises(ValueError, match="plan without one of the two"):
        eligible.among(store, con, "attack_angle", ["Spring"], True, DAY)


def test_the_forecast_counts_only_those_who_may_take_part(store: Store) -> None:
    con = published()
    con.execute("create table mart.cohort_member as select 's' || n as student_id, if(n < 60, 'Spring', 'Rest') as "
                "cohort, date '2026-01-01' as from_date, null::date as to_date from range(150) as t (n)")  # fmt: skip
    for n in (0, 2, 90):
        goal(store, f"s{n}", "attack_angle")
    ask = lambda cohorts, goal: eligible.among(store, con, "attack_angle", cohorts, goal, DAY)  # noqa: E731
    assert ask([], False) is None and len(ask(["Spring"], False)) == 60
    assert ask(["Spring"], True) == ("s0", "s2") and ask([], True) == ("s0", "s2", "s90")
    whole, spring = (
        planning.plan_of(con, "attack_angle", "driver", 1.5, Design(), among=among)
        for among in (None, ask(["Spring"], False))
    )
    # Half of the students are in evidence; the spread is everybody's, so the students needed are the same.
    assert (whole["candidates"], spring["candidates"]) == (75, 30) and whole["students"] == spring["students"]
    assert whole["weeks"] is not None and (spring["weeks"] is None or spring["weeks"] > whole["weeks"])


def test_a_plan_kept_before_plans_could_be_narrowed_is_open_to_all() -> None:
    old = PLAN.as_json().replace('"cohorts": [], ', "").replace('"goal": false, ', "")
    assert "cohorts" not in old and Plan.of_json(old) == PLAN and eligible.who(PLAN) == ""
    assert Plan.of_json(SPRING.as_json()) == SPRING
