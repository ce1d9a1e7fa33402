"""Director, Monday: are this term's students better than they were, and what needs attention?"""

from __future__ import annotations

from typing import Any

import polars as pl
import streamlit as st

from dashboard import page_parts, people_sentences, words
from dashboard.charts import cohort_levels
from dashboard.goals import goal_rows
from dashboard.reading import Reading, current
from dashboard.sentences import first_up, subject

GOALS_SHOWN = 4
PAGE_OF = {"drill": ("drill", "drill"), "student": ("students", "student"), "bay": ("bays", "bay")}


def draw_goal(read: Reading, goal: dict[str, Any], rows: pl.DataFrame) -> None:
    """Draw one goal number by cohort."""
    shown = read.shown(goal["metric"], goal["club_group"])
    title = first_up(subject(shown, goal["club_group"], rows["measure"][0]))
    st.markdown(f"**{title}**")
    chart = cohort_levels.chart(rows, shown, page_parts.look(), title)
    lines = [people_sentences.cohort_change(row, shown) for row in rows.iter_rows(named=True)]
    page_parts.picture(chart, lines, rows, f"week-{goal['club_group']}-{goal['metric']}")


def more(thing: dict[str, Any]) -> dict[str, str]:
    """Return the number that a link opens the page with; a student's slide is one of the driver's numbers."""
    if not thing["metric"]:
        return {}
    return {"student": {"number": f"driver.{thing['metric']}"}, "bay": {"metric": thing["metric"]}}.get(
        thing["subject"], {}
    )


def attention(read: Reading) -> None:
    """List what needs attention, each with why and one link."""
    st.subheader(words.SECTIONS["attention"])
    things = read.ask("attention")
    if things.is_empty():
        st.markdown(words.EMPTY["attention"])
    for thing in things.iter_rows(named=True):
        st.markdown(f"{thing['rank']}. {people_sentences.attention(thing)}")
        if thing["subject"]:
            where, key = PAGE_OF[thing["subject"]]
            page_parts.go(
                where, f"{words.PAGES[where]}: {thing['shown_as']}", **{key: thing["subject_id"]}, **more(thing)
            )


def page() -> None:
    """Show the week in review."""
    read = current()
    page_parts.question("week")
    goals = goal_rows(read, GOALS_SHOWN)
    judged = [(row, goal["better"]) for goal, rows in goals for row in rows.iter_rows(named=True)]
    page_parts.answer(people_sentences.week(judged), "interval", "expected anyway", "beyond own noise", "distance")
    if goals:
        st.caption(cohort_levels.KEY)
    with st.container(key="goals"):
        for first in range(0, len(goals), 2):
            for column, (goal, rows) in zip(st.columns(2, gap="medium"), goals[first : first + 2], strict=False):
                with column:
                    draw_goal(read, goal, rows)
    attention(read)
    st.subheader(words.SECTIONS["owner"])
    st.markdown(people_sentences.owner(read.ask("academy_week").row(0, named=True)))
    page_parts.go("cohorts", words.NEXT["cohorts"])
    page_parts.go("drills", words.NEXT["drills"])
    st.caption(f"{words.DIRECTION_NUMBERS} {words.NO_COACHES}")


if __name__ == "__main__":
    page()
