"""A running trial's state and its looks, on the same made file as the outcomes."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path

import polars as pl
import pytest

from tests.warehouse.trials.test_outcomes import DAY, PLAN, STUDENTS, enter_all, published
from warehouse.domain.trials.interim_look import FOUND, TOO_EARLY
from warehouse.notebook import actions
from warehouse.notebook.store import NotebookRefused, Store, current
from warehouse.trials import follow

TODAY = DAY + timedelta(days=20)


def test_the_state_counts_everybody_and_shows_no_outcome_by_arm(store: Store, tmp_path: Path) -> None:
    lots = enter_all(store, tmp_path, PLAN)
    con = published({student: [arm] for student, arm in lots.items() if student != "s5"})
    got = follow.state(store, con, "T1", TODAY)
    assert got.recruitment["entered_so_far"].to_list()[-1] == STUDENTS and got.arms["drawn"].sum() == STUDENTS
    assert got.arms["missing"].sum() == 1 and got.sentence == f"All {STUDENTS} students have been entered."
    assert got.balance["characteristic"].to_list() == ["starting_gap", "baseline"]
    assert all("outcome" not in name for frame in (got.recruitment, got.balance, got.arms) for name in frame.columns)
    assert got.safety["D01"].decision == "go on"


def test_a_stop_for_pain_pauses_the_drill_on_the_same_day(store: Store, tmp_path: Path) -> None:
    lots = enter_all(store, tmp_path, PLAN)
    con = published({student: [arm] for student, arm in lots.items()})
    actions.record_stop(store, student_id="s1", drill_id="D01", kind="pain", at=datetime(2026, 3, 20, 10), by="coach")
    assert follow.state(store, con, "T1", TODAY).safety["D01"].decision == "pause"


def test_a_look_is_kept_counts_in_the_next_and_the_last_comes_once(store: Store, tmp_path: Path) -> None:
    lots = enter_all(store, tmp_path, PLAN)
    early = {student: [arm] for student, arm in list(lots.items())[:24]}
    first = follow.take_look(store, published(early), "T1", on=TODAY, by="director")["D01"]
    again = follow.take_look(store, published(early), "T1", on=TODAY, by="director")["D01"]
    assert first.information == pytest.approx(24 / 32) and again.decision == TOO_EARLY
    whole = published({student: [arm] for student, arm in lots.items()})
    end = follow.take_look(store, whole, "T1", on=date(2026, 5, 1), by="director", last=True)["D01"]
    assert end.decision == FOUND and end.information == 1.0
    assert end.limit is not None and end.limit > 1.97  # what the first look spent is gone
    assert current(store, "trial_look").filter(pl.col("decision") != TOO_EARLY).height == 2
    with pytest.raises(NotebookRefused, match="last look"):
        follow.take_look(store, whole, "T1", on=date(2026, 5, 2), by="director")


def test_a_look_at_a_handful_decides_nothing(store: Store, tmp_path: Path) -> None:
    lots = enter_all(store, tmp_path, PLAN)
    few = published({student: [arm] for student, arm in list(lots.items())[:6]})
    assert follow.take_look(store, few, "T1", on=TODAY, by="director")["D01"].decision == TOO_EARLY
