"""Who is in the bay: bay and student in two taps at most, kept in the address, and the drills to choose from.

Not here: what is written (notebook_taps.py).
"""

from __future__ import annotations

from typing import Any

import polars as pl
import streamlit as st

from dashboard.notebook import holds as notebook_holds
from dashboard.notebook import store
from dashboard.shell import access, choices
from dashboard.shell.page_context import Reading
from dashboard.text import notebook as words
from dashboard.text.drill_sentences import Row
from dashboard.text.people_sentences import gain

LIKELY = 8
SUGGESTED = 3
BAY_OF_TABLET = "bay-of-tablet"


def keep_bay(picked: str | None) -> None:
    """Keep the bay that this tablet stands in."""
    choices.keep("bay", picked)
    st.session_state[BAY_OF_TABLET] = picked


def bay_of_tablet() -> None:
    """Let the tablet stand where its coach put it: a bay looked at on another page does not move it."""
    own = st.session_state.get(BAY_OF_TABLET)
    if own is not None and "bay" not in st.query_params:
        choices.keep("bay", own)


def bay(bays: pl.DataFrame) -> Row | None:
    """Let the coach tap the bay; once chosen the others fold away, and the address keeps it."""
    options = bays["bay_id"].sort().to_list()
    bay_of_tablet()
    choices.take("bay", "pick-bay")
    chosen, _ = choices.among("bay", options)
    choices.draw("pick-bay", chosen)
    st.session_state[BAY_OF_TABLET] = chosen
    with st.popover(words.BAY_CHOSEN.format(bay=chosen)) if chosen else st.container():
        picked = st.pills(words.BAY, options, key="pick-bay", required=True)
    return None if picked is None else bays.row(by_predicate=pl.col("bay_id") == picked, named=True)


def likely(read: Reading, bay_row: Row) -> pl.DataFrame:
    """Return the students, those first who are most likely in a bay of this site now."""
    # To the half hour, so that the answer can be kept.
    at = store.now(bay_row["timezone"]).replace(second=0)
    at = at.replace(minute=at.minute // 30 * 30)
    coach = access.current().coach_id
    return read.ask("likely_students", site_id=bay_row["site_id"], at=at, coach_id=coach)


def student(students: pl.DataFrame, here: list[str]) -> Row | None:
    """Let the coach tap the student: those entered in this bay today first, then the likely ones, then a list."""
    names = dict(students.select("student_id", "shown_as").iter_rows())
    for widget in ("pick-student", "pick-student-list"):
        choices.take("student", widget)
    chosen, _ = choices.among("student", names)
    first = [one for one in dict.fromkeys([*here, *names]) if one in names][:LIKELY]
    if chosen and chosen not in first:
        first = [chosen, *first[:-1]]
    choices.draw("pick-student", chosen)
    choices.draw("pick-student-list", None)
    picked = st.pills(
        words.STUDENT, first, format_func=lambda one: names[one], key="pick-student", required=True
    )  # fmt: skip
    st.selectbox(
        words.STUDENT_OTHER, list(names), index=None, format_func=lambda one: names[one], key="pick-student-list",
        placeholder=words.STUDENT_OTHER, label_visibility="collapsed",
    )  # fmt: skip
    return None if picked is None else students.row(by_predicate=pl.col("student_id") == picked, named=True)


def goal_number(read: Reading, student_id: str, own: Row | None) -> tuple[str, str] | None:
    """Return club group and metric that the student works on: the written goal's, else what stands furthest off."""
    if own is not None:
        return own["club_group"], own["metric"]
    goals = read.ask("student_goals", student_id=student_id)
    return None if goals.is_empty() else (goals["club_group"][0], goals["metric"][0])


def suggested(read: Reading, student_id: str, number: tuple[str, str] | None, holds: pl.DataFrame) -> list[Row]:
    """Return the drills with a forecast better than free practice, three at most: for the goal's number first.

    Drills that went the wrong way and drills that are held are not among them.
    """
    every = notebook_holds.allowed(read.ask("student_forecast", student_id=student_id), holds)
    rows = [row for row in every.iter_rows(named=True) if row["verdict"] != "wrong way" and gain(row)[0] > 0]

    def order(row: Row) -> tuple[Any, ...]:
        of_goal = (row["club_group"], row["metric"]) == number
        return not of_goal, -gain(row)[0] / read.shown(row["metric"], row["club_group"]).matters_from

    best: dict[str, Row] = {}
    for row in sorted(rows, key=order):
        best.setdefault(row["drill_id"], row)
    return list(best.values())[:SUGGESTED]
