"""Coach: where is this student against their own goal, and what next?"""

from __future__ import annotations

import polars as pl
import streamlit as st

from dashboard.charts import attack_path, carry_by_attack, carry_sources, student_sessions
from dashboard.notebook import holds as notebook_holds
from dashboard.sections import carry as carry_parts
from dashboard.sections import four_weeks
from dashboard.shell import access, chart_cache, components
from dashboard.shell.page_context import Reading, current
from dashboard.text import (
    attention_sentences,
    carry_sentences,
    goal_sentences,
    notebook,
    people_sentences,
    student_head,
    words,
)
from dashboard.text import carry as words_carry
from dashboard.text.drill_sentences import Row, day, first_up, lower_first, number_name
from warehouse.schema.metrics import METRIC

DRILLS_SHOWN = 3


def choose_goal(read: Reading, goals: pl.DataFrame, own: Row | None) -> Row:
    """Let the reader choose the number: first the student's own goal, else the one furthest from a drill's aim."""
    names = {
        f"{row['club_group']}.{row['metric']}": read.number(row["metric"], row["club_group"])
        for row in goals.iter_rows(named=True)
    }
    group, metric = components.choose_number(
        words.LABELS["number"], names, f"{own['club_group']}.{own['metric']}" if own else None
    )
    return goals.row(by_predicate=(pl.col("club_group") == group) & (pl.col("metric") == metric), named=True)


def over_time(read: Reading, student: str, goal: Row, target: float | None) -> None:
    """Draw the number by session, with its noise."""
    shown = read.shown(goal["metric"], goal["club_group"])
    keys = {"student_id": student, "club_group": goal["club_group"], "metric": goal["metric"]}
    rows = read.ask("student_sessions", **keys)
    drills = read.ask("student_drills", student_id=student).filter(pl.col("club_group") == goal["club_group"])
    title = first_up(number_name(shown, goal["club_group"]))
    chart = chart_cache.drawn(student_sessions.chart, rows, drills, goal, shown, components.look(), title, target)
    lines = [people_sentences.session(row, shown) for row in rows.iter_rows(named=True)]
    lines += [f"{day(row['night'])}: {row['name']} was done." for row in drills.iter_rows(named=True)]
    components.picture(chart, lines, rows, "sessions", student_sessions.KEY)


def moved_by_event(read: Reading, student: str, goal: Row) -> None:
    """Say which event keeps sessions out of the comparison; other balls concern numbers of the ball only."""
    rows = read.ask("student_events", student_id=student, club_group=goal["club_group"], metric=goal["metric"])
    if not METRIC[goal["metric"]].of_ball:
        rows = rows.filter(pl.col("kind") != "balls changed")
    if rows.height:
        st.caption(attention_sentences.event_of_student(rows.row(0, named=True)))


def delivery(read: Reading, student: str, group: str) -> None:
    """Draw attack angle against path, first sessions and latest."""
    st.markdown(f"**{words.SECTIONS['delivery']}**")
    mirrored = {"path_mirrored": METRIC["club_path"].mirrored, "attack_mirrored": METRIC["attack_angle"].mirrored}
    rows = read.ask("student_delivery", student_id=student, club_group=group, **mirrored)
    if rows.is_empty():
        st.markdown(words.EMPTY["delivery"])
        return
    angle = read.shown("attack_angle", group)
    lines = [people_sentences.delivery(row, angle) for row in rows.iter_rows(named=True)]
    components.picture(chart_cache.drawn(attack_path.chart, rows, components.look()), lines, rows, "delivery")


def carry(read: Reading, student: str) -> None:
    """Draw where the carry of one drill episode came from."""
    components.section(words.SECTIONS["carry"])
    rows = read.ask("student_carry", student_id=student)
    if rows.is_empty():
        st.markdown(words.EMPTY["carry"])
        return
    names = {row["episode_id"]: f"{day(row['night'])}: {row['name']}" for row in rows.iter_rows(named=True)}
    episode = components.choose(words.LABELS["episode"], names, "episode")
    row = rows.row(by_predicate=pl.col("episode_id") == episode, named=True)
    shown = read.shown("carry", row["club_group"])
    st.markdown(carry_sentences.speed_or_delivery(row, shown, names[episode]))
    chart = chart_cache.drawn(carry_sources.chart, row, shown, components.look())
    components.picture(chart, [people_sentences.carry_sources(row, shown)], rows, "carry-sources")


def speed_allows(read: Reading, student: str) -> None:
    """Draw what carry the student's driver speed allows."""
    components.section(words.SECTIONS["speed_allows"])
    places = read.ask("student_place", student_id=student)
    grid = pl.DataFrame() if places.is_empty() else read.ask("carry_by_attack", club_speed=places["club_speed"][0])
    if grid.is_empty() or places["standard_carry"][0] is None:
        st.markdown(words.EMPTY["place"])
        return
    place = places.row(0, named=True)
    speed, angle, length = (read.shown(metric, "driver") for metric in ("club_speed", "attack_angle", "carry"))
    line = people_sentences.place(place, speed, angle, length)
    st.markdown(line)
    components.words_used("carry shortfall")
    lofts = carry_sentences.best_lofts(grid, length)
    components.picture(
        chart_cache.drawn(carry_by_attack.chart, grid, place, length, components.look()),
        [line, lofts],
        grid,
        "carry-by-attack",
        carry_by_attack.KEY,
    )


def forecasts(read: Reading, student: str, goal: Row) -> tuple[pl.DataFrame, list[Row], str] | None:
    """Return forecasts for the number, those that gain (three at most), and the sentence; None: holds not readable."""
    holds = notebook_holds.readable(read.home, student)
    if holds is None:
        return None
    every = notebook_holds.allowed(read.ask("student_forecast", student_id=student), holds)
    own = every.filter((pl.col("metric") == goal["metric"]) & (pl.col("club_group") == goal["club_group"]))
    rows = sorted(own.iter_rows(named=True), key=lambda row: -people_sentences.gain(row)[0])
    rows = [row for row in rows if row["verdict"] != "wrong way" and people_sentences.gain(row)[0] > 0][:DRILLS_SHOWN]
    if own.is_empty():
        return own, rows, words.NO_DRILL_FOR_NUMBER if every.height else words.EMPTY["forecast"]
    return own, rows, people_sentences.next_drill(rows, read.shown(goal["metric"], goal["club_group"]))


def next_drill(read: Reading, goal: Row, found: tuple[pl.DataFrame, list[Row], str] | None) -> None:
    """Say which drill next: caution first, then what to expect."""
    components.section(words.SECTIONS["next_drill"], anchor="next-drill")
    if found is None:
        st.error(notebook.HOLDS_UNREADABLE)
        return
    own, rows, said = found
    if own.is_empty():
        st.markdown(said)
        return
    components.answer(said, "prediction interval", "beyond free practice", "certainty")
    shown = read.shown(goal["metric"], goal["club_group"])
    for row in rows:
        st.markdown(f"**{row['name']}**")
        components.caution(notebook.caution(row["caution"]), row["drill_id"])
        st.markdown(people_sentences.forecast(row, shown))
        components.go("drill", words.NEXT["drill"], drill=row["drill_id"])
    components.behind(own, "forecast")


def head(student: str, name: str) -> None:
    """Put who it is and where to go on; it stays in sight while the page is read."""
    pages = access.current().pages
    with st.container(horizontal=True, vertical_alignment="center", key="student-head"):
        st.markdown(f"**{name}**", width="content")
        st.markdown(f"[{student_head.NEXT}](#next-drill)", width="content")
        st.markdown(f"[{student_head.HISTORY}](#history)", width="content")
        for where, label in (("notebook", student_head.RECORD), ("take_home", student_head.TAKE_HOME)):
            if where in pages:
                components.go(where, label, student=student)


def page() -> None:
    """Show one student."""
    read = current()
    components.question("students")
    students = access.own_first(read, read.ask("students"))
    if students.is_empty():
        st.markdown(words.EMPTY["students"])
        return
    left, right = st.columns(2)
    with left:
        names = dict(students.select("student_id", "shown_as").iter_rows())
        student = components.choose_person(words.LABELS["student"], names)
    if student is None:
        return
    goals = read.ask("student_goals", student_id=student)
    if goals.is_empty():
        st.markdown(words.EMPTY["sessions"])
        return
    set_goals = list(read.ask("student_goal", student_id=student).iter_rows(named=True))
    own = set_goals[0] if set_goals else None
    with right:
        goal = choose_goal(read, goals, own)
    shown = read.shown(goal["metric"], goal["club_group"])
    head(student, names[student])
    is_own = own is not None and (own["metric"], own["club_group"]) == (goal["metric"], goal["club_group"])
    if own:
        st.markdown(goal_sentences.own_goal(own, read.shown(own["metric"], own["club_group"])))
    components.answer(goal_sentences.goal(goal, shown), "interval", "beyond own noise", "bay offset", "ellipse")
    found = forecasts(read, student, goal)
    if found:
        st.markdown(f"[{words.SECTIONS['next_drill']}](#next-drill): {lower_first(found[2])}")
    st.caption(people_sentences.meaning(read.meaning(goal["metric"]), shown))
    if own is None:
        st.caption(words.NO_OWN_GOAL)
    moved_by_event(read, student, goal)
    wide, narrow = st.columns([3, 2], gap="medium")
    with wide:
        components.section(student_head.HISTORY, anchor="history")
        over_time(read, student, goal, own["target"] if own and is_own else None)
    with narrow:
        delivery(read, student, goal["club_group"])
    next_drill(read, goal, found)
    carry_parts.delivery(read, student, goal["club_group"])
    four_weeks.show(read, student, goal["metric"])
    carry(read, student)
    speed_allows(read, student)
    st.caption(words_carry.MODEL_NOTE)
    st.caption(words.SMALL_PRINT["student"])


if __name__ == "__main__":
    page()
