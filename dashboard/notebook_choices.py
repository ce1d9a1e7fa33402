"""Who is in the bay: bay and student in two taps at most, kept in the address, and the drills to choose from.

Not here: what is written (notebook_taps.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import polars as pl
import streamlit as st

from dashboard import access, notebook_holds, notebook_store
from dashboard import words_notebook as words
from dashboard.people_sentences import gain
from dashboard.reading import Reading
from dashboard.sentences import Row

LIKELY = 8
SUGGESTED = 3


def from_address(key: str, widget: str, options: Mapping[str, str]) -> None:
    """Take a choice from the address, else from what this tablet chose before it went to another page."""
    if widget not in st.session_state:
        wanted = st.query_params.get(key) or st.session_state.get(f"written-{key}")
        st.session_state[widget] = wanted if wanted in options else None
    elif st.session_state[widget] not in options:
        st.session_state[widget] = None


def to_address(key: str, picked: str | None) -> None:
    """Keep a choice in the address."""
    if picked is None:
        st.query_params.pop(key, None)
    elif st.query_params.get(key) != picked:
        st.query_params[key] = picked
    st.session_state[f"written-{key}"] = picked


def bay(bays: pl.DataFrame) -> Row | None:
    """Let the coach tap the bay; once chosen the others fold away, and the address keeps it."""
    options = {bay_id: bay_id for bay_id in bays["bay_id"].sort()}
    from_address("bay", "pick-bay", options)
    chosen = st.session_state.get("pick-bay")
    place = st.popover(words.BAY_CHOSEN.format(bay=chosen)) if chosen in options else st.container()
    with place:
        picked = st.pills(words.BAY, list(options), key="pick-bay")
    to_address("bay", picked)
    return None if picked is None else bays.row(by_predicate=pl.col("bay_id") == picked, named=True)


def likely(read: Reading, bay_row: Row) -> pl.DataFrame:
    """Return the students, those first who are most likely in a bay of this site now."""
    # To the half hour, so that the answer can be kept.
    at = notebook_store.now(bay_row["timezone"]).replace(second=0)
    at = at.replace(minute=at.minute // 30 * 30)
    coach = access.current().coach_id
    return read.ask("likely_students", site_id=bay_row["site_id"], at=at, coach_id=coach)


def taken_from_list() -> None:
    """A student was chosen in the list: show them among those to tap."""
    if st.session_state["pick-student-list"]:
        st.session_state["pick-student"] = st.session_state["pick-student-list"]
    st.session_state["pick-student-list"] = None


def student(students: pl.DataFrame, here: list[str]) -> Row | None:
    """Let the coach tap the student: those entered in this bay today first, then the likely ones, then a list."""
    names = dict(students.select("student_id", "shown_as").iter_rows())
    from_address("student", "pick-student", names)
    chosen = st.session_state.get("pick-student")
    first = [one for one in dict.fromkeys([*here, *names]) if one in names][:LIKELY]
    if chosen in names and chosen not in first:
        first = [chosen, *first[:-1]]
    picked = st.pills(words.STUDENT, first, format_func=lambda one: names[one], key="pick-student")
    st.selectbox(
        words.STUDENT_OTHER, list(names), index=None, format_func=lambda one: names[one], key="pick-student-list",
        placeholder=words.STUDENT_OTHER, label_visibility="collapsed", on_change=taken_from_list,
    )  # fmt: skip
    to_address("student", picked)
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
