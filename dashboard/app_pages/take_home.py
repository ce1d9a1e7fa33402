"""Coach, for a student or parent: one page to take home, once the coach has read and released it."""

from __future__ import annotations

import polars as pl
import streamlit as st

from dashboard.charts import student_sessions
from dashboard.handouts import take_home
from dashboard.handouts.take_home import Sheet
from dashboard.notebook import bay_and_student, goal
from dashboard.notebook import holds as notebook_holds
from dashboard.shell import access, chart_cache, components
from dashboard.shell.page_context import Reading, current
from dashboard.text import access as words_access
from dashboard.text import notebook as words
from dashboard.text import notebook_sentences
from dashboard.text.drill_sentences import Row
from dashboard.text.words import EMPTY

ALONE = "alone"
NOTHING = "-"


def practise(read: Reading, student_id: str, alone: bool) -> Row | None:
    """Let the coach choose the one thing to practise: the drill suggested first, of those not held; or nothing new."""
    holds = notebook_holds.readable(read.home, student_id)
    if holds is None:
        if not alone:
            st.error(words.HOLDS_UNREADABLE)
        return None
    drills = notebook_holds.allowed(read.ask("drills"), holds)
    number = bay_and_student.goal_number(read, student_id, goal.latest(read, student_id))
    first = [row["drill_id"] for row in bay_and_student.suggested(read, student_id, number, holds)]
    names = dict(drills.select("drill_id", "name").iter_rows())
    options = {one: names[one] for one in [*first, *names] if one in names} | {NOTHING: words.NOTHING_TO_PRACTISE}
    default = first[0] if first else NOTHING
    if alone:
        picked = st.query_params.get("practise", default)
        picked = picked if picked in options else default
    else:
        picked = components.choose(words.PRACTISE, options, "practise", default)
    return None if picked == NOTHING else drills.row(by_predicate=pl.col("drill_id") == picked, named=True)


def show(sheet: Sheet) -> None:
    """Show the page as it will print."""
    headings = words.TAKE_HOME
    components.section(f"{headings['title']}: {sheet.name}")
    if sheet.guardian:
        st.markdown(f"**{sheet.guardian}**")
    st.markdown(f"**{headings['goal']}**  \n{notebook_sentences.plain(sheet.goal)}")
    worked = "\n".join(f"- {line}" for line in sheet.worked) if sheet.worked else words.NO_WORK
    st.markdown(f"**{headings['worked']}**\n\n{worked}")
    st.markdown(f"**{headings['changed']}**  \n{sheet.changed}")
    if sheet.chart is not None:
        made = chart_cache.drawn(sheet.chart.func, *sheet.chart.args, **sheet.chart.keywords)
        st.caption(student_sessions.BAND)
        chart_cache.show(made, key="take-home-chart")
    st.caption(words.HOW_READ)
    st.markdown(f"**{headings['practise']}**")
    components.caution(f"{words.caution(sheet.drill and sheet.drill['caution'])} {words.AT_HOME}", "take-home")
    if sheet.drill:
        st.markdown(f"**{sheet.drill['name']}.** {sheet.drill['setup'] or ''}")
    else:
        st.markdown(words.NO_PRACTICE)


def release(read: Reading, student_id: str, sheet: Sheet) -> None:
    """Let the coach release what is shown; anything else than what was released must be released again."""
    st.caption(words.RELEASE_HELP)
    released = st.checkbox(words.RELEASE_PAGE, key=f"release-{student_id}-{hash(repr(sheet.said))}")
    if not released:
        st.markdown(words.RELEASE_FIRST)
        return
    access.download(
        words.DOWNLOAD_PAGE,
        lambda: take_home.render(sheet).encode(),
        f"practice-page-{student_id}.html",
        "text/html",
        home=read.home,
        key="take-home",
        detail=f"page to take home of {student_id}, released",
    )


def alone_view(students: pl.DataFrame) -> Row | None:
    """Return the student whose page is shown alone; the address names them, nothing on the page names another."""
    wanted = st.query_params.get("student")
    rows = students.filter(pl.col("student_id") == wanted)
    return rows.row(0, named=True) if rows.height else None


def go_alone() -> None:
    """Hide all but this page."""
    st.query_params[ALONE] = "yes"


def go_back() -> None:
    """Show the other pages again."""
    st.query_params.pop(ALONE, None)


def page() -> None:
    """Show the page to take home."""
    read = current()
    students = access.own_first(read, read.ask("students"))
    alone = st.query_params.get(ALONE) == "yes"
    student = alone_view(students) if alone else None
    if alone and student:
        show(take_home.make(read, student, practise(read, student["student_id"], alone=True)))
        st.button(words.BACK, key="back", type="tertiary", on_click=go_back)
        return
    go_back()
    st.title(words.QUESTIONS["take_home"])
    if students.is_empty():
        st.markdown(EMPTY["students"])
        return
    left, right = st.columns(2)
    with left:
        names = dict(students.select("student_id", "shown_as").iter_rows())
        student_id = components.choose_person(words.CHOOSE_WHOSE, names)
    if student_id is None:
        return
    student = students.row(by_predicate=pl.col("student_id") == student_id, named=True)
    with right:
        drill = practise(read, student_id, alone=False)
    sheet = take_home.make(read, student, drill)
    with st.container(border=True):
        show(sheet)
    release(read, student_id, sheet)
    st.button(words.ALONE, key="alone", on_click=go_alone, help=words.ALONE_HELP)
    if access.current().role == "administrator":
        st.caption(words_access.FORGET.format(student=student_id, home=read.home.folder))


if __name__ == "__main__":
    page()
