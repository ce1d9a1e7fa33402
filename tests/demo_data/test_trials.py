"""The made academy's drill trials: who is asked, and that what is drawn is what is then done and planted."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
import polars as pl
import pytest

from demo_data.academy import FIRST_DAY, SMALL
from demo_data.drills import DRILLS
from demo_data.generate import SEED, write_academy
from demo_data.reference import drill_log, lesson_ids
from demo_data.term import Term, play
from demo_data.timetable import COACHED
from demo_data.trials import Asked, Trial


class Turns:
    """Gives the drills in turn, and keeps what was asked."""

    def __init__(self) -> None:
        self.trials: dict[str, Trial] = {}
        self.asked: dict[str, list[Asked]] = {}
        self.drawn: dict[str, dict[str, str]] = {}

    def __call__(self, trial: Trial, asked: Sequence[Asked]) -> dict[str, str]:
        agreed = [one.student_id for one in asked if not one.refused]
        self.trials[trial.trial_id], self.asked[trial.trial_id] = trial, list(asked)
        self.drawn[trial.trial_id] = {s: trial.drills[n % len(trial.drills)] for n, s in enumerate(agreed)}
        return self.drawn[trial.trial_id]


@pytest.fixture(scope="module")
def played() -> tuple[Term, Turns]:
    lots = Turns()
    return play(SMALL, SEED, lots), lots


def test_one_trial_is_finished_one_runs_and_one_is_planned(played):
    trials = played[1].trials
    assert trials["T1"].begun_on < trials["T1"].ended_on <= SMALL.last_day
    assert trials["T2"].begun_on <= SMALL.last_day and trials["T2"].ended_on is None
    assert trials["T3"].begun_on is None and played[1].asked["T3"] == []
    assert 0 < len(played[1].drawn["T2"]) < trials["T2"].students


def test_students_are_asked_once_in_a_lesson_of_their_own_and_only_where_their_data_may_be_evidence(played):
    term, lots = played
    people = {row["student_id"]: row for row in term.students.frame.iter_rows(named=True)}
    for trial_id, asked in lots.asked.items():
        ids = [one.student_id for one in asked]
        assert len(set(ids)) == len(ids)
        for one in asked:
            assert term.sessions.kind[one.session] == COACHED and term.sessions.mates[one.session] == 1
            person = people[one.student_id]
            assert (person["consent_evidence"] or person["consent"]) == "yes"
            assert lots.trials[trial_id].begun_on <= one.on < (lots.trials[trial_id].ended_on or date.max)
            years = (FIRST_DAY - date.fromisoformat(person["born_on"])).days / 365.25 if person["born_on"] else 99
            assert one.minor == (years < 18)
    refused = [one for asked in lots.asked.values() for one in asked if one.refused]
    assert refused and all(one.student_id not in lots.drawn["T1"] or not one.refused for one in lots.asked["T1"])


def test_what_was_drawn_is_in_the_log_as_drawn_and_what_the_coach_gave_instead_is_the_coachs(played):
    term, lots = played
    lesson = lesson_ids(term.sessions)
    log = drill_log(term.sessions, term.shots, term.episodes, term.seconds, lesson, term.mess)
    first = {row["lesson_id"]: row for row in log.reverse().iter_rows(named=True)}
    instead = 0
    for trial_id in ("T1", "T2"):
        for one in lots.asked[trial_id]:
            if one.refused:
                continue
            row, lot = first[lesson[one.session]], lots.drawn[trial_id][one.student_id]
            assert (row["drill_id"] == lot, row["chosen_by"]) == ((False, "coach") if one.instead else (True, "draw"))
            instead += bool(one.instead)
    assert instead


def test_a_drill_drawn_does_what_the_student_answers_to_it_whichever_was_drawn(played):
    """The planted truth stays right: the shift is the student's own response to the drill that the lot gave."""
    term, lots = played
    by_session = {episode.session: episode for episode in reversed(term.episodes)}
    ids = term.students.frame["student_id"].to_list()
    off = []
    for one in lots.asked["T1"]:
        episode = by_session.get(one.session)
        if one.refused or episode is None:
            continue
        drill = DRILLS[episode.drill]
        off.append((episode.gain - term.responses.own[ids.index(one.student_id), episode.drill]) / drill.student_sd)
    # An episode varies around the student's own response by a fifth of its spread over students.
    assert len(off) >= 15 and np.abs(off).max() < 0.8 and abs(np.mean(off)) < 0.2


def test_without_trials_nothing_is_asked_and_the_term_before_the_first_is_the_same(played):
    plain, begun = play(SMALL, SEED), (played[1].trials["T1"].begun_on - FIRST_DAY).days
    earlier = [
        [(e.session, e.drill, e.chosen_by) for e in term.episodes if term.sessions.day[e.session] < begun]
        for term in (plain, played[0])
    ]
    assert earlier[0] == earlier[1] != []


def test_the_same_lots_give_the_same_landing_folder(tmp_path):
    tables = []
    for name in ("one", "other"):
        write_academy(tmp_path / name / "landing", small=True, lots=Turns())
        files = sorted(path for path in (tmp_path / name).rglob("*") if path.is_file())
        tables.append({path.relative_to(tmp_path / name): path.read_bytes() for path in files})
    assert tables[0] == tables[1]
    log = pl.read_csv(tmp_path / "one" / "landing" / "academy" / "drill_log.csv", infer_schema=False)
    assert {"D04", "D05", "D08"} <= set(log.filter(pl.col("chosen_by") == "draw")["drill_id"])
