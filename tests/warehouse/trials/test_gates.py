"""What stands in the way of a lot, whoever asks for it: page, command, or a caller of the book."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from warehouse.domain.trials.randomisation import FREE_PRACTICE
from warehouse.notebook.store import NotebookRefused, Store, enter
from warehouse.trials import book, gates
from warehouse.trials.plan import Plan

DAY = date(2026, 3, 2)
PLAN = Plan(
    trial_id="T1", title="A drill for attack angle", kind="parallel", horizon="transfer",
    treatments=(FREE_PRACTICE, "D01"), metric="attack_angle", measure="centre", club_group="driver", better=1,
    matters_from=1.0, students=40, episodes=2, weeks=9, gap_middle=2.0,
)  # fmt: skip


def agree(store: Store, student: str, trial: str = "T1", on: date = DAY) -> None:
    book.agree(store, trial_id=trial, student_id=student, agreed_by="student", agreed_on=on, by="coach")


def draw(store: Store, home: Path, student: str, trial: str = "T1", on: date = DAY) -> str:
    return book.enter_and_draw(
        store, home, trial_id=trial, student_id=student, site_id="S1", starting_gap=1.0, minor=False, consent=True,
        on=on, by="coach",
    ).arm  # fmt: skip


@pytest.fixture
def running(store: Store, tmp_path: Path) -> Store:
    """A notebook in which a trial runs."""
    book.begin(store, tmp_path, PLAN, begun_on=DAY, by="director")
    agree(store, "s1")
    return store


def stop(store: Store, kind: str) -> None:
    enter(store, "stop_entry", "coach",
          {"student_id": "s9", "drill_id": "D01", "kind": kind, "at": datetime(2026, 3, 3, 10)})  # fmt: skip


def test_after_pain_no_lot_is_drawn_until_somebody_has_looked_into_it(running: Store, tmp_path: Path) -> None:
    stop(running, "pain")
    with pytest.raises(NotebookRefused, match=r"D01 was stopped for pain.*looked-into T1 D01"):
        draw(running, tmp_path, "s1")
    assert book.lots_so_far(running, "T1").is_empty()
    gates.look_into(running, trial_id="T1", drill_id="D01", words="The bag stands two feet farther off.", by="coach")
    assert draw(running, tmp_path, "s1") in PLAN.treatments
    agree(running, "s2")
    stop(running, "pain")
    with pytest.raises(NotebookRefused, match=r"stopped for pain"):
        draw(running, tmp_path, "s2")


def test_an_aid_struck_alone_does_not_stop_the_draw(running: Store, tmp_path: Path) -> None:
    stop(running, "aid struck")
    assert draw(running, tmp_path, "s1") in PLAN.treatments


@pytest.mark.parametrize("decision", ["stop: harm", "stop: difference found"])
def test_after_a_look_that_says_stop_nobody_is_drawn(running: Store, tmp_path: Path, decision: str) -> None:
    enter(running, "trial_look", "director",
          {"trial_id": "T1", "on_date": DAY, "arm": "D01", "information": 0.5, "decision": decision})  # fmt: skip
    with pytest.raises(NotebookRefused, match=f"{decision}.*nobody is drawn"):
        draw(running, tmp_path, "s1")


def test_a_look_that_goes_on_lets_the_draw_go_on(running: Store, tmp_path: Path) -> None:
    enter(running, "trial_look", "director",
          {"trial_id": "T1", "on_date": DAY, "arm": "D01", "information": 0.5, "decision": "go on"})  # fmt: skip
    assert draw(running, tmp_path, "s1") in PLAN.treatments


def test_no_more_are_entered_than_were_planned(store: Store, tmp_path: Path) -> None:
    book.begin(store, tmp_path, replace(PLAN, students=2), begun_on=DAY, by="director")
    for student in ("s1", "s2", "s3"):
        agree(store, student)
    draw(store, tmp_path, "s1")
    draw(store, tmp_path, "s2")
    with pytest.raises(NotebookRefused, match=r"All 2 students of the plan are entered"):
        draw(store, tmp_path, "s3")


def test_a_student_is_not_in_two_running_trials_of_one_number(running: Store, tmp_path: Path) -> None:
    other = replace(PLAN, trial_id="T2", treatments=("D02", "D03"))
    book.begin(running, tmp_path, other, begun_on=DAY, by="director")
    draw(running, tmp_path, "s1")
    agree(running, "s1", "T2")
    with pytest.raises(NotebookRefused, match=r"in trial T1 of the same number"):
        draw(running, tmp_path, "s1", "T2")
    book.end(running, tmp_path, trial_id="T1", on=DAY, by="director")
    assert draw(running, tmp_path, "s1", "T2") in other.treatments


def test_a_student_may_be_in_two_trials_of_different_numbers(running: Store, tmp_path: Path) -> None:
    other = replace(PLAN, trial_id="T2", metric="club_path")
    book.begin(running, tmp_path, other, begun_on=DAY, by="director")
    draw(running, tmp_path, "s1")
    agree(running, "s1", "T2")
    assert draw(running, tmp_path, "s1", "T2") in other.treatments


def test_days_that_have_not_come_are_refused(running: Store, tmp_path: Path) -> None:
    tomorrow = date.today() + timedelta(days=1)
    with pytest.raises(NotebookRefused, match=r"agreement.*future"):
        agree(running, "s4", on=tomorrow)
    with pytest.raises(NotebookRefused, match=r"entry.*future"):
        draw(running, tmp_path, "s1", on=tomorrow)
    with pytest.raises(NotebookRefused, match=r"end.*future"):
        book.end(running, tmp_path, trial_id="T1", on=tomorrow, by="director")


def test_an_agreement_given_after_the_day_of_entry_is_none(store: Store, tmp_path: Path) -> None:
    book.begin(store, tmp_path, PLAN, begun_on=DAY, by="director")
    agree(store, "s1", on=DAY + timedelta(days=1))
    with pytest.raises(NotebookRefused):
        draw(store, tmp_path, "s1")
    assert draw(store, tmp_path, "s1", on=DAY + timedelta(days=1)) in PLAN.treatments


def test_a_trial_cannot_have_ended_before_it_began(running: Store, tmp_path: Path) -> None:
    with pytest.raises(NotebookRefused, match=r"began on 2026-03-02"):
        book.end(running, tmp_path, trial_id="T1", on=DAY - timedelta(days=1), by="director")


def test_looking_into_a_stop_takes_words(running: Store) -> None:
    with pytest.raises(NotebookRefused, match=r"Say what was looked at"):
        gates.look_into(running, trial_id="T1", drill_id="D01", words="  ", by="coach")
