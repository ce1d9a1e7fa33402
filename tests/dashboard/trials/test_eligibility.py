"""Who may take part, on the pages: narrowed where a trial is planned, said and counted where a student is looked at."""

from __future__ import annotations

from pathlib import Path

import duckdb
import made_trials
import pytest
from made_notebook import STUDENT, all_entries, enter, in_bay, opened, tap, text_of, widget
from made_tables import student_id

from dashboard.text import trials as words
from dashboard.text.notebook_sentences import plain
from warehouse.notebook import actions
from warehouse.trials import proposal
from warehouse.trials.plan import Plan

pytestmark = pytest.mark.usefixtures("at_ten")

PLAN_VIEW = {"show": "plan", "number": "driver.attack_angle", "drills": "R1,R2"}


@pytest.fixture
def here(here: Path) -> Path:
    """Return a home whose students 0 to 9 are in Spring, the others in <Summer>."""
    with duckdb.connect(str((here / "published" / "current.duckdb").resolve())) as con:
        con.execute(
            "insert into mart.cohort_member select student_id, if(student_id < 'S010', 'Spring', '<Summer>'), "
            "date '2031-03-01', null from mart.student"
        )
    return here


def test_a_plan_is_narrowed_and_its_candidates_are_those_who_may_take_part(here, monkeypatch) -> None:
    app = opened(here, "trials", monkeypatch, **PLAN_VIEW)
    assert not app.exception
    before = text_of(app)
    app.multiselect(key="plan-cohorts").set_value(["Spring"]).run()
    assert not app.exception
    assert text_of(app) != before
    widget(app.checkbox, "plan-even-").set_value(True).run()
    app = tap(app, words.BEGIN)
    assert not app.exception
    plan = Plan.of_json(all_entries(here, "trial")["plan"][0])
    assert (plan.cohorts, plan.goal) == (("Spring",), False)
    assert "Narrowed to students in Spring on the day of entry." in text_of(app)
    assert "students in Spring on the day of entry" in [frame.value["open to"].iloc[0] for frame in app.dataframe
                                                        if "open to" in frame.value]  # fmt: skip


def test_a_goal_that_nobody_has_is_said_and_nothing_can_be_begun(here: Path, monkeypatch) -> None:
    app = opened(here, "trials", monkeypatch, **PLAN_VIEW)
    app.checkbox(key="plan-goal").set_value(True).run()
    assert not app.exception
    assert "nobody's goal in the notebook is attack angle" in app.error[0].value
    assert not [one for one in app.button if one.label == words.BEGIN]
    goal = {"words": "Up", "metric": "attack_angle", "club_group": "driver", "target": 2.0}
    enter(here, actions.set_goal, student_id=STUDENT, **goal)
    app = opened(here, "trials", monkeypatch, **PLAN_VIEW)
    app.checkbox(key="plan-goal").set_value(True).run()
    assert not app.error


def test_a_student_outside_the_plan_is_not_asked_and_is_counted_with_one_tap(here: Path, monkeypatch) -> None:
    made_trials.begun(here, cohorts=("<Summer>",))
    app = in_bay(here, monkeypatch)
    assert not app.exception
    said = "the trial is for <Summer>, and on 2031-04-14 the student is in Spring since 2031-03-01"
    assert plain(said) in text_of(app)
    assert words.AGREES["student"] not in [one.label for one in app.button]
    app = tap(app, words.COUNT_OUTSIDE)
    assert words.COUNTED_OUTSIDE in text_of(app)
    assert all_entries(here, "trial_ineligible").select("student_id", "reason").rows() == [(STUDENT, "cohort")]
    app = opened(here, "trials", monkeypatch)
    assert "1 student looked at who may not take part." in text_of(app)


def test_a_student_of_the_cohort_is_asked_and_drawn(here: Path, monkeypatch) -> None:
    made_trials.begun(here, cohorts=("Spring",))
    app = tap(tap(in_bay(here, monkeypatch), words.AGREES["student"]), words.ENTER_AND_DRAW)
    assert not app.exception
    assert all_entries(here, "trial_lot")["student_id"].to_list() == [STUDENT]


def test_the_flow_on_the_page_counts_who_was_outside(here: Path, monkeypatch) -> None:
    plan = made_trials.begun(here, cohorts=("Spring",))
    app = opened(here, "notebook", monkeypatch, bay="B06", student=student_id(12))
    tap(app, words.COUNT_OUTSIDE)
    made_trials.ended(here, plan)
    app = opened(here, "trials", monkeypatch)
    assert not app.exception
    flow = next(frame.value for frame in app.dataframe if "everybody" in frame.value)
    row = flow[flow["step"] == "Not of those it is for"].iloc[0]
    assert (row["what"], row["everybody"]) == ("not in a cohort of the trial", "1")


@pytest.mark.parametrize(("rule", "times"), [("obrien-fleming", "1.02"), ("always valid", "1.87")])
def test_the_page_says_what_looks_cost_and_counts_it_in_power(here: Path, monkeypatch, rule: str, times: str) -> None:
    app = opened(here, "trials", monkeypatch, **PLAN_VIEW)
    app.selectbox(key="plan-rule").set_value(rule).run()
    assert not app.exception
    assert f"{times} times as many as without looks" in text_of(app)
    assert f"{proposal.looks_cost(rule):.2f}" == times
    students = app.number_input[1].value if len(app.number_input) > 1 else 0
    assert students
