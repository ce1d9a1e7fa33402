"""Director, Monday: are this term's students better than they were, and what needs attention?"""

from __future__ import annotations

from typing import Any

import polars as pl
import streamlit as st

from dashboard.charts import changes, cohort_levels
from dashboard.handouts import week_review
from dashboard.sections.goal_numbers import goal_rows
from dashboard.shell import access, chart_cache, components
from dashboard.shell.page_context import Reading, current
from dashboard.text import attention as words_attention
from dashboard.text import attention_sentences, people_sentences, term_sentences, week_sentences, words
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


def thing_line(read: Reading, thing: dict[str, Any]) -> None:
    """Put one thing that needs attention, with why and one link."""
    new = f"**{week_sentences.NEW}** · " if week_sentences.is_new(thing, read.publication["through_night"]) else ""
    st.markdown(f"{new}{attention_sentences.attention(thing, read.inner_number)}")
    if thing["subject"]:
        where, key = PAGE_OF[thing["subject"]]
        components.go(where, f"{words.PAGES[where]}: {thing['shown_as']}", **{key: thing["subject_id"]}, **more(thing))


def attention(read: Reading) -> None:
    """List what needs the director in groups, people first; of each group the most urgent, and how many more."""
    components.section(week_sentences.NEEDS, anchor="attention")
    things = read.ask("attention").to_dicts()
    if not things:
        st.markdown(words.EMPTY["attention"])
    for title, rows in week_sentences.grouped(things).items():
        st.markdown(f"**{title} ({len(rows)})**")
        for thing in rows[: week_sentences.SHOWN]:
            thing_line(read, thing)
        rest = rows[week_sentences.SHOWN :]
        if rest:
            with st.expander(week_sentences.MORE.format(count=len(rest))):
                for thing in rest:
                    thing_line(read, thing)


def changes_around_zero(read: Reading, goals: list[tuple[dict[str, Any], pl.DataFrame]]) -> None:
    """Draw all goal numbers' changes around one zero."""
    drawn, lines = [], []
    for goal, rows in goals:
        shown = read.shown(goal["metric"], goal["club_group"])
        better = "down" if rows["measure"][0] == "distance" else goal["better"]
        drawn.append((read.number(goal["metric"], goal["club_group"]), better, shown, rows))
        lines += [people_sentences.cohort_change(row, shown) for row in rows.iter_rows(named=True)]
    table = pl.concat([rows for _, _, _, rows in drawn])
    chart = chart_cache.drawn(changes.chart, changes.prepared(drawn), components.look())
    components.picture(chart, lines, table, "week-changes", changes.KEY)


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
    if judged:
        components.answer(
            week_sentences.verdict(judged, read.shown),
            "interval", "beyond free practice", "expected anyway", "beyond own noise", "distance", "false discoveries",
        )  # fmt: skip
    else:
        components.answer(words.EMPTY["cohort_change"])
    with st.container(key="wraps-goals"):
        left, right = st.columns([3, 2], gap="medium")
        with left:
            if goals:
                changes_around_zero(read, goals)
                said = term_sentences.term(read.ask("terms").to_dicts())
                st.caption(f"{said} {term_sentences.weeks(judged[0][0])}".strip())
        with right:
            attention(read)
    access.download(
        week_sentences.PRINT, lambda: week_review.render(read.home).encode(), "week-in-review.html", "text/html",
        home=read.home, key="print-week",
    )  # fmt: skip
    with st.expander(week_sentences.SAID_IN_FULL):
        st.markdown("  \n".join(people_sentences.lead(judged, read.shown)))
    listed(read)
    if goals:
        components.section(week_sentences.LEVELS)
        st.caption(cohort_levels.KEY)
    with st.container(key="wraps-levels"):
        for first in range(0, len(goals), 2):
            for column, (goal, rows) in zip(st.columns(2, gap="medium"), goals[first : first + 2], strict=False):
                with column:
                    draw_goal(read, goal, rows)
    if goals:
        keys = {key: goals[0][0][key] for key in ("metric", "club_group")}
        moved = attention_sentences.events_moved(read.ask("first_moved", **keys)["students"][0])
        if moved:
            st.caption(moved)
    components.section(words.SECTIONS["owner"])
    st.markdown(people_sentences.owner(read.ask("academy_week").row(0, named=True)))
    components.go("cohorts", words.NEXT["cohorts"])
    components.go("drills", words.NEXT["drills"])
    st.caption(f"{words.DIRECTION_NUMBERS} {words.NO_COACHES}")


if __name__ == "__main__":
    page()
