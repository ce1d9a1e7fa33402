"""Director, Monday: are this term's students better than they were, and what needs attention?"""

from __future__ import annotations

from typing import Any

import polars as pl
import streamlit as st

from dashboard.charts import cohort_levels
from dashboard.sections.goal_numbers import goal_rows
from dashboard.shell import chart_cache, components
from dashboard.shell.page_context import Reading, current
from dashboard.text import attention as words_attention
from dashboard.text import attention_sentences, people_sentences, term_sentences, words
from dashboard.text.drill_sentences import first_up, subject

GOALS_SHOWN = 4
PAGE_OF = {"drill": ("drill", "drill"), "student": ("students", "student"), "bay": ("bays", "bay")}


def draw_goal(read: Reading, goal: dict[str, Any], rows: pl.DataFrame) -> None:
    """Draw one goal number by cohort."""
    shown = read.shown(goal["metric"], goal["club_group"])
    title = first_up(subject(shown, goal["club_group"], rows["measure"][0]))
    st.markdown(f"**{title}**")
    chart = chart_cache.drawn(cohort_levels.chart, rows, shown, components.look(), title, goal["better"])
    lines = [people_sentences.cohort_change(row, shown) for row in rows.iter_rows(named=True)]
    components.picture(chart, lines, rows, f"week-{goal['club_group']}-{goal['metric']}")


def more(thing: dict[str, Any]) -> dict[str, str]:
    """Return the number that a link opens the page with."""
    if not thing["metric"]:
        return {}
    number = {"number": f"{thing['club_group']}.{thing['metric']}"}
    return {"student": number, "bay": {"metric": thing["metric"]}}.get(thing["subject"], {})


def attention(read: Reading) -> None:
    """List what needs attention, each with why and one link."""
    components.section(words.SECTIONS["attention"], anchor="attention")
    things = read.ask("attention")
    if things.is_empty():
        st.markdown(words.EMPTY["attention"])
    for thing in things.iter_rows(named=True):
        st.markdown(f"{thing['rank']}. {attention_sentences.attention(thing, read.inner_number)}")
        if thing["subject"]:
            where, key = PAGE_OF[thing["subject"]]
            components.go(
                where, f"{words.PAGES[where]}: {thing['shown_as']}", **{key: thing["subject_id"]}, **more(thing)
            )


def listed(read: Reading) -> None:
    """Say how many students are listed as better, and who they are."""
    rows = read.ask("students_listed").filter(pl.col("side") == "better")
    st.markdown(attention_sentences.listed_better(list(rows.iter_rows(named=True))))
    if rows.height:
        with st.expander(words_attention.LISTED_TITLE):
            for row in rows.iter_rows(named=True):
                number = f"{row['club_group']}.{row['metric']}"
                components.go(
                    "students", f"{row['shown_as']}: {read.inner_number(row['metric'], row['club_group'])}",
                    student=row["student_id"], number=number,
                )  # fmt: skip


def page() -> None:
    """Show the week in review."""
    read = current()
    components.question("week")
    goals = goal_rows(read, GOALS_SHOWN)
    judged = [(row, goal["better"]) for goal, rows in goals for row in rows.iter_rows(named=True)]
    components.answer(
        "  \n".join(people_sentences.lead(judged, read.shown)),
        "interval", "beyond free practice", "expected anyway", "beyond own noise", "distance", "false discoveries",
    )  # fmt: skip
    waiting = read.ask("attention").height
    if waiting:
        st.markdown(f"[{words.SECTIONS['attention']}: {waiting}](#attention)")
    listed(read)
    if goals:
        st.caption(f"{term_sentences.term(read.ask('terms').to_dicts())} {term_sentences.weeks(judged[0][0])}".strip())
        st.caption(cohort_levels.KEY)
    with st.container(key="wraps-goals"):
        for first in range(0, len(goals), 2):
            for column, (goal, rows) in zip(st.columns(2, gap="medium"), goals[first : first + 2], strict=False):
                with column:
                    draw_goal(read, goal, rows)
    if goals:
        keys = {key: goals[0][0][key] for key in ("metric", "club_group")}
        moved = attention_sentences.events_moved(read.ask("first_moved", **keys)["students"][0])
        if moved:
            st.caption(moved)
    attention(read)
    components.section(words.SECTIONS["owner"])
    st.markdown(people_sentences.owner(read.ask("academy_week").row(0, named=True)))
    components.go("cohorts", words.NEXT["cohorts"])
    components.go("drills", words.NEXT["drills"])
    st.caption(f"{words.DIRECTION_NUMBERS} {words.NO_COACHES}")


if __name__ == "__main__":
    page()
