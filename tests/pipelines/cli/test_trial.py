"""`academy trial`, each step as it is typed, on a made published file."""

from __future__ import annotations

import json
import sys
from datetime import datetime
from pathlib import Path

import duckdb
import polars as pl
import pytest
from typer.testing import CliRunner

sys.path.insert(0, str(Path(__file__).parents[2] / "dashboard"))
import made_file
import made_notebook
import made_trials
from made_tables import student_id

from pipelines.command_line import app
from warehouse.notebook import actions
from warehouse.notebook.store import current, open_store

DAY = made_trials.BEGUN.isoformat()
TODAY = made_trials.TODAY.isoformat()


@pytest.fixture(scope="module")
def published(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a home with a made published file."""
    return made_file.make_home(tmp_path_factory.mktemp("trials_home"))


@pytest.fixture
def home(published: Path, tmp_path: Path) -> Path:
    """Return a home of its own, with that file and no notebook."""
    return made_notebook.own_home(published, tmp_path / "home")


def typed(home: Path, *words: str, code: int = 0) -> str:
    """Run `academy trial …` and return all it says."""
    done = CliRunner().invoke(app, ["trial", *words, "--home", str(home)])
    assert done.exit_code == code, done.output
    return done.output


def begun(home: Path) -> None:
    """Begin a trial of two drills."""
    made_trials.begun(home)


def test_a_home_without_trials_says_what_to_do(home: Path) -> None:
    assert "academy trial next" in typed(home, "list")


def test_no_published_file_is_said_with_the_remedy(tmp_path: Path) -> None:
    assert "academy nightly" in typed(tmp_path, "next", code=2)


def test_a_lot_is_drawn_only_for_who_agreed_and_once(home: Path) -> None:
    begun(home)
    student = student_id(1)
    assert "not agreed" in typed(home, "draw", "T1", student, "--on", DAY, code=2)
    typed(home, "agree", "T1", student, "--on", DAY)
    said = typed(home, "draw", "T1", student, "--on", DAY)
    assert f"{student} is drawn to: R" in said
    assert "already" in typed(home, "draw", "T1", student, "--on", DAY, code=2)


def test_a_minor_needs_the_guardian_too(home: Path) -> None:
    begun(home)
    with duckdb.connect(str((home / "published" / "current.duckdb").resolve()), read_only=True) as published:
        minor = published.execute(
            "select student_id from mart.student where coalesce(minor, true) and in_evidence order by 1 limit 1"
        ).fetchone()[0]
    typed(home, "agree", "T1", minor, "--on", DAY)
    assert "guardian" in typed(home, "draw", "T1", minor, "--on", DAY, code=2)
    typed(home, "agree", "T1", minor, "--guardian", "--on", DAY)
    assert "is drawn to" in typed(home, "draw", "T1", minor, "--on", DAY)


def test_the_lots_listed_are_those_drawn_and_no_lot_to_come(home: Path, tmp_path: Path) -> None:
    begun(home)
    assert "No lot" in typed(home, "draw", "T1")
    made_trials.entered(home, made_trials.Plan(**made_trials.PLAN), range(1, 5))
    typed(home, "draw", "T1", "--csv", str(tmp_path / "lots.csv"))
    lots = pl.read_csv(tmp_path / "lots.csv", infer_schema=False)
    assert sorted(lots["student_id"]) == sorted(student_id(n) for n in range(1, 5))


def test_a_no_is_kept_with_its_reason_and_a_withdrawal_takes_the_agreement_back(home: Path) -> None:
    begun(home)
    student = student_id(2)
    typed(home, "agree", "T1", student, "--on", DAY)
    typed(home, "decline", "T1", student, "--declined-by", "student", "--reason", "Would rather practise freely")
    typed(home, "withdraw", "T1", student)
    store = open_store(made_notebook.url(home))
    assert current(store, "trial_decline")["reason"].to_list() == ["Would rather practise freely"]
    assert current(store, "trial_agreement").is_empty()
    store.close()
    assert "not agreed" in typed(home, "draw", "T1", student, "--on", DAY, code=2)


def test_a_running_trial_cannot_be_read_and_a_finished_one_is_in_the_order_of_its_flow(home: Path) -> None:
    plan = made_trials.begun(home)
    lots = made_trials.entered(home, plan, range(24))
    made_trials.done_as_drawn(home, lots)
    assert "still runs" in typed(home, "read", "T1", code=2)
    assert "All 24 students" in typed(home, "follow", "T1", "--on", made_trials.TODAY.isoformat())
    ended = typed(home, "follow", "T1", "--end", "--on", made_trials.TODAY.isoformat())
    assert "as it was drawn" in ended
    report = json.loads(typed(home, "read", "T1", "--json"))
    steps = list(dict.fromkeys(row["step"] for row in report["flow"]))
    assert steps == ["assessed", "drawn", "done", "followed", "analysed"]
    found = next(row for row in report["result"] if row["analysis"] == "as drawn")
    assert found["ci_low"] < made_trials.BETTER_BY < found["ci_high"]
    assert report["verdicts"]["R2"]["certainty"] in ("high", "moderate", "low", "very low")


def test_an_unknown_drill_is_refused_with_the_drills_there_are(home: Path) -> None:
    said = typed(home, "plan", "R1", "no-such-drill", code=2)
    assert "no-such-drill" in said and "R1" in said


def test_a_plan_says_what_it_needs_and_begins_only_when_asked(home: Path) -> None:
    said = typed(home, "plan", "R1", "free-practice", "--on", DAY)
    assert "smallest change that matters" in said and "coach on site" in said
    assert "academy trial next" in typed(home, "list")
    assert "after what is published" in typed(home, "plan", "R1", "free-practice", "--begin", "--on", DAY, code=2)
    typed(home, "plan", "R1", "free-practice", "--begin", "--on", TODAY)
    assert "T1" in typed(home, "list")


@pytest.mark.parametrize("step", [("draw", "T9"), ("withdraw", "T9", "x"), ("follow", "T9"), ("read", "T9")])
def test_a_trial_that_is_not_there_is_said(home: Path, step: tuple[str, ...]) -> None:
    assert "no trial T9" in typed(home, *step, code=2)


def test_who_is_not_a_student_cannot_agree_and_what_was_not_agreed_cannot_be_taken_back(home: Path) -> None:
    begun(home)
    assert "no student" in typed(home, "agree", "T1", "nobody", "--on", DAY, code=2)
    assert "nothing to take back" in typed(home, "withdraw", "T1", student_id(3), code=2)


def test_a_rule_for_looks_is_known_by_its_name_and_needs_its_students(home: Path) -> None:
    assert "always-valid" in typed(home, "plan", "R1", "free-practice", "--rule", "sometimes", code=2)
    told = [
        json.loads(typed(home, "plan", "R1", "free-practice", "--students", "40", "--rule", rule, "--json"))
        for rule in ("obrien-fleming", "pocock", "always-valid")
    ]
    assert [row["inflation"] for row in told] == pytest.approx([1.017, 1.166, 1.872], abs=2e-3)
    power = [row["tells"]["power"] for row in told]
    assert power[0] >= power[1] >= power[2] > 0


def test_a_look_at_a_trial_that_has_ended_is_refused_and_not_kept(home: Path) -> None:
    plan = made_trials.begun(home)
    made_trials.done_as_drawn(home, made_trials.entered(home, plan, range(24)))
    typed(home, "follow", "T1", "--end", "--on", made_trials.TODAY.isoformat())
    assert "has ended" in typed(home, "follow", "T1", "--end", code=2)
    assert "instead of looking" in typed(home, "follow", "T1", "--look", code=2)
    store = open_store(made_notebook.url(home))
    assert current(store, "trial_look").is_empty()
    store.close()


def enrolled(home: Path) -> None:
    """Publish cohorts: students 0 to 9 in Spring from the day before the trial on, the others in Summer."""
    with duckdb.connect(str((home / "published" / "current.duckdb").resolve())) as con:
        con.execute(
            "insert into mart.cohort_member select student_id, if(student_id < 'S010', 'Spring', 'Summer'), "
            "date '2031-03-09', null from mart.student"
        )


def test_a_plan_is_narrowed_by_cohort_and_goal_and_says_so_everywhere(home: Path) -> None:
    enrolled(home)
    assert "no cohort Autumn; cohorts: Spring, Summer" in typed(home, "plan", "R1", "R2", "--cohort", "Autumn", code=2)
    assert "nobody's goal in the notebook is attack angle" in typed(home, "plan", "R1", "R2", "--goal", code=2)
    made_notebook.enter(home, actions.set_goal, student_id=student_id(1), words="Up", metric="attack_angle",
                        club_group="driver", target=2.0)  # fmt: skip
    whole, spring = (
        json.loads(typed(home, "plan", "R1", "R2", "--json", "--on", DAY, *more))
        for more in ((), ("--cohort", "Spring"))
    )
    assert 0 < spring["needs"]["candidates"] <= 10 < whole["needs"]["candidates"]
    said = typed(home, "plan", "R1", "R2", "--cohort", "Spring", "--goal", "--begin", "--on", TODAY)
    narrowed = "students in Spring on the day of entry and whose goal in the notebook is attack angle"
    assert f"Who may take part: {narrowed}" in said
    for student, why in ((2, "student's goal is not in the notebook"), (15, "is in Summer since 2031-03-09")):
        typed(home, "agree", "T1", student_id(student), "--on", TODAY)
        assert why in typed(home, "draw", "T1", student_id(student), "--on", TODAY, code=2)
    typed(home, "agree", "T1", student_id(1), "--on", TODAY)
    assert "is drawn to" in typed(home, "draw", "T1", student_id(1), "--on", TODAY)
    listed = json.loads(typed(home, "list", "--json"))
    assert [row["open_to"] for row in listed] == [narrowed]
    assert f"{narrowed}; 2 looked at who may not." in typed(home, "follow", "T1")
    typed(home, "follow", "T1", "--end", "--on", made_trials.TODAY.isoformat())
    assert f"{narrowed}; 2 looked at who may not." in typed(home, "read", "T1")
    flow = json.loads(typed(home, "read", "T1", "--json"))["flow"]
    assert sorted(row["students"] for row in flow if row["step"] == "not eligible") == [1, 1]
    assert flow[0]["students"] == 3


def test_power_told_counts_what_the_looks_cost(home: Path) -> None:
    said = typed(home, "plan", "R1", "R2", "--rule", "always-valid")
    assert "Looks on the way cost 1.87 times the students of a trial without; all numbers here count it." in said


def test_a_stop_for_harm_needs_its_kind_and_is_told_in_follow_and_report(home: Path) -> None:
    begun(home)
    on = made_trials.TODAY.isoformat()
    assert "say which harm it was: pain, aid struck" in typed(home, "follow", "T1", "--words", "It hurt", code=2)
    assert "'bad luck' is no kind of harm" in typed(home, "follow", "T1", "--harm", "bad-luck", code=2)
    said = typed(home, "follow", "T1", "--harm", "aid-struck", "--words", "The rod sprang off", "--on", on)
    assert "Stopped for harm: aid struck: The rod sprang off." in said and "T1 has ended." in said
    assert "Stopped for harm: aid struck: The rod sprang off." in typed(home, "follow", "T1", "--on", on)
    assert "Stopped for harm: aid struck: The rod sprang off." in typed(home, "read", "T1")
    assert json.loads(typed(home, "read", "T1", "--json"))["harm"] == "aid struck"


def test_a_stop_for_pain_is_looked_into_before_the_next_lot(home: Path) -> None:
    made_trials.begun(home)
    student = student_id(1)
    made_notebook.enter(home, actions.record_stop, student_id=student_id(5), drill_id="R1", kind="pain",
                        at=datetime(2031, 3, 12, 10))  # fmt: skip
    typed(home, "agree", "T1", student, "--on", DAY)
    assert "stopped for pain" in typed(home, "draw", "T1", student, "--on", DAY, code=2)
    assert "no drill of T1" in typed(home, "looked-into", "T1", "X", "--words", "Seen", code=2)
    assert "R1: kept" in typed(home, "looked-into", "T1", "R1", "--words", "The rod stands farther off.")
    assert "is drawn to" in typed(home, "draw", "T1", student, "--on", DAY)
