"""Coach, tablet in the bay: what happened, in three taps."""

from __future__ import annotations

from datetime import datetime

import polars as pl
import streamlit as st

from dashboard.notebook import actions, bay_and_student, forms, goal, last_session, paper_card, todays_entries
from dashboard.notebook import holds as notebook_holds
from dashboard.notebook import store as notebook_store
from dashboard.notebook import trial as notebook_trial
from dashboard.notebook.actions import Place
from dashboard.shell import components
from dashboard.shell.page_context import Reading, current
from dashboard.text import notebook as words
from dashboard.text import notebook_sentences, people_sentences
from dashboard.text.drill_sentences import Row
from dashboard.text.words import EMPTY
from warehouse.settings import settings

TARGETS = """<style>
.st-key-notebook button, .st-key-notebook summary, .st-key-notebook [data-baseweb="select"] > div {min-height: 3rem;}
.st-key-notebook [data-testid="stButton"] button p {font-size: 1.05rem;}
.st-key-notebook [data-testid="stButtonGroup"] button {min-width: 3.5rem; padding: .5rem .9rem;}
</style>"""


def said() -> None:
    """Show what came of the last tap."""
    kind, text = st.session_state.pop(actions.SAID, ("", ""))
    undo = st.session_state.pop(actions.UNDO, None)
    if kind == "done":
        with st.container(border=True, horizontal=True, vertical_alignment="center", key="notebook-said"):
            st.markdown(f":material/check: {text}")
            if undo:
                st.button(words.UNDO, key=f"undo-{undo[2]}", on_click=actions.undo, args=undo)
    elif kind == "stopped":
        st.toast(words.STOPPED_TOAST)
        st.warning(text)
    elif kind == "refused":
        st.error(text)


def drill_names(read: Reading) -> dict[str, str]:
    """Return the drills' names."""
    return dict(read.ask("drills").select("drill_id", "name").iter_rows())


def open_drill(place: Place, entries: pl.DataFrame) -> Row | None:
    """Return the drill that runs for this student in this bay."""
    own = entries.filter(
        (pl.col("bay_id") == place.bay_id) & (pl.col("student_id") == place.student_id) & pl.col("ends_at").is_null()
    )
    return own.row(-1, named=True) if own.height else None


def running(place: Place, row: Row, name: str) -> None:
    """Offer the end of the running drill, and its stops: one tap each."""
    st.button(
        words.ENDS.format(drill=name), type="primary", width="stretch",
        key=f"end-{row['entry_id']}", on_click=actions.end, args=(place, row["entry_id"]),
    )  # fmt: skip
    columns = st.columns(len(words.STOPS))
    for column, (kind, text) in zip(columns, words.STOPS.items(), strict=True):
        ticket = place.ticket(f"stop-{kind}")
        column.button(
            text, width="stretch", key=f"stop-{kind}-{ticket}", on_click=actions.stop,
            args=(place, ticket, row["entry_id"], row["drill_id"], kind),
        )  # fmt: skip
    st.caption(words.STOP_HELP)


def pick_drill(read: Reading, place: Place, suggestions: list[Row], holds: pl.DataFrame) -> str | None:
    """Let the coach tap a drill: the suggested ones, or any other that is not held."""
    every = notebook_holds.allowed(read.ask("drills"), holds)
    names = dict(every.select("drill_id", "name").iter_rows())
    first = [row["drill_id"] for row in suggestions if row["drill_id"] in names]
    key = f"drill-{place.student_id}"

    def from_list() -> None:
        st.session_state[key] = None

    def from_pills() -> None:
        st.session_state[f"{key}-list"] = None

    tapped = None
    if first:
        tapped = st.pills(words.DRILL, first, format_func=lambda one: names[one], key=key, on_change=from_pills)
    else:
        st.markdown(words.NO_SUGGESTION)
    listed = st.selectbox(
        words.DRILL_OTHER, [one for one in names if one not in first], index=None,
        format_func=lambda one: names[one], key=f"{key}-list", placeholder=words.DRILL_OTHER,
        label_visibility="collapsed", on_change=from_list,
    )  # fmt: skip
    return listed or tapped


def unmeasured(read: Reading, place: Place, drill: Row) -> None:
    """Say, before it begins, that this bay does not measure what a drill aims at, and which bays of the site do."""
    if drill["aim_metric"] is None:
        return
    bays = read.ask("bays_measuring", metric=drill["aim_metric"])
    if not bays.filter((pl.col("bay_id") == place.bay_id) & ~pl.col("measures")).height:
        return
    own = read.ask("bays").with_columns(here=pl.col("site_id") == pl.col("site_id").filter(bay_id=place.bay_id).first())
    measuring = bays.filter("measures").join(own.filter("here"), on="bay_id", how="semi")["bay_id"].to_list()
    number = read.shown(drill["aim_metric"], drill["club_group"]).label
    st.warning(notebook_sentences.not_measured(place.bay_id, number, measuring))


def begins(read: Reading, place: Place, suggestions: list[Row], holds: pl.DataFrame) -> None:
    """Let the coach choose a drill, read its caution, and begin it."""
    held = notebook_holds.names(read.ask("drills"), holds)
    if held:
        st.markdown(notebook_sentences.held(held))
    stops = notebook_store.on_day(place.store, "stop_entry", place.now().date(), student_id=place.student_id)
    names = drill_names(read)
    for row in stops.iter_rows(named=True):
        st.warning(notebook_sentences.stopped(row, names.get(row["drill_id"], row["drill_id"])))
    drill_id = pick_drill(read, place, suggestions, holds)
    if drill_id is None:
        st.caption(words.CHOOSE_DRILL)
        return
    drill = read.ask("drills").row(by_predicate=pl.col("drill_id") == drill_id, named=True)
    components.caution(words.caution(drill["caution"]), drill_id)
    unmeasured(read, place, drill)
    needed = settings.load(read.home.folder).episodes.min_block_shots
    st.markdown(words.FREE_FIRST.format(balls=needed))
    forecast = next((row for row in suggestions if row["drill_id"] == drill_id), None)
    if forecast:
        shown = read.shown(forecast["metric"], forecast["club_group"])
        st.markdown(people_sentences.forecast(forecast, shown))
    left, right = st.columns(2, vertical_alignment="bottom")
    with left:
        chosen_by = st.segmented_control(
            words.CHOSEN_BY, words.CHOOSERS_BY_HAND, format_func=lambda one: words.CHOOSERS[one], default="coach",
            key=f"chosen-{place.student_id}",
        )  # fmt: skip
    ticket = place.ticket("begin")
    right.button(
        words.BEGINS.format(drill=drill["name"]), type="primary", width="stretch", key=f"begin-{ticket}",
        on_click=actions.begin, args=(place, ticket, drill_id, chosen_by or "coach"),
    )  # fmt: skip
    if drill["setup"]:
        st.markdown(drill["setup"])


def marks(read: Reading, place: Place) -> None:
    """Offer one tap for each stretch that is not the student's own full swings."""
    st.markdown(f"**{words.SECTIONS['marks']}**")
    entries = notebook_store.still_of_use(place.store, "set_aside", place.now(), bay_id=place.bay_id)
    still = {row["kind"]: row for row in entries.filter(pl.col("ends_at").is_null()).iter_rows(named=True)}
    columns = st.columns(len(words.MARKS) + 1)
    for column, (kind, text) in zip(columns, words.MARKS.items(), strict=False):
        row = still.get(kind)
        if row:
            column.button(
                words.MARK_ENDS.format(kind=text), type="primary", width="stretch", key=f"unmark-{row['entry_id']}",
                on_click=actions.end_mark, args=(place, row["entry_id"]),
            )  # fmt: skip
        else:
            ticket = place.ticket(f"mark-{kind}")
            column.button(
                text, width="stretch", key=f"mark-{ticket}", on_click=actions.mark, args=(place, ticket, kind)
            )
    with columns[-1].popover(words.MOVED, width="stretch"):
        ticket = place.ticket("mark-moved to bay")
        for other in read.ask("bays")["bay_id"]:
            if other != place.bay_id:
                st.button(
                    other, width="stretch", key=f"move-{other}-{ticket}", on_click=actions.mark,
                    args=(place, ticket, "moved to bay", other),
                )  # fmt: skip
    open_marks = [notebook_sentences.set_aside(row) for kind, row in still.items() if kind in words.MARKS]
    if open_marks:
        st.markdown(" ".join(open_marks))
    st.caption(words.MARKS_HELP)


def in_the_bay(read: Reading, bay: Row, students: pl.DataFrame) -> tuple[Place, Row] | None:
    """Let the coach choose the student; say who is in the bay."""
    store, now = notebook_store.opened(read.home), notebook_store.now(bay["timezone"])
    entries = notebook_store.still_of_use(store, "drill_entry", now, bay_id=bay["bay_id"])
    here = entries["student_id"].drop_nulls().reverse().to_list()
    student = bay_and_student.student(students, here)
    if student is None:
        st.caption(words.CHOOSE_STUDENT)
        return None
    return Place(read.home, bay["bay_id"], bay["timezone"], student["student_id"]), student


@st.fragment(run_every=30)
def so_far(place: Place, since: datetime) -> None:
    """Say for how long the drill has run; said anew by itself, and nothing else of the page is."""
    st.markdown(notebook_sentences.running_for(since, place.now()))


def drill_now(read: Reading, place: Place, student: Row) -> None:
    """Say which drill runs, and offer its end or another's beginning."""
    entries = notebook_store.still_of_use(place.store, "drill_entry", place.now())
    row = open_drill(place, entries)
    names = drill_names(read)
    name = names.get(row["drill_id"], row["drill_id"]) if row else None
    components.answer(
        notebook_sentences.running(place.bay_id, student["shown_as"], name, row["starts_at"] if row else None)
    )
    if row:
        so_far(place, row["starts_at"])
        running(place, row, name)
        return
    holds = notebook_holds.readable(read.home, place.student_id, place.now().date())
    if holds is None:
        st.error(words.HOLDS_UNREADABLE)
        return
    number = bay_and_student.goal_number(read, place.student_id, goal.latest(read, place.student_id))
    notebook_trial.show(read, place, holds)
    begins(read, place, bay_and_student.suggested(read, place.student_id, number, holds), holds)


def page() -> None:
    """Show the notebook."""
    read = current()
    st.title(words.QUESTIONS["notebook"])
    st.html(TARGETS)
    said()
    bays, everyone = read.ask("bays"), read.ask("students")
    if bays.is_empty() or everyone.is_empty():
        st.markdown(EMPTY["bays"] if bays.is_empty() else EMPTY["students"])
        return
    with st.container(key="notebook"):
        bay = bay_and_student.bay(bays)
        if bay is None:
            st.caption(words.CHOOSE_BAY)
            return
        chosen = in_the_bay(read, bay, bay_and_student.likely(read, bay))
        if chosen is None:
            last_session.counted(read, None)
            return
        place, student = chosen
        drill_now(read, place, student)
        marks(read, place)
        last_session.last_session(read, place)
        forms.show(read, place)
        todays_entries.show(read, place)
        last_session.counted(read, place)
        paper_card.offer(read, place, student)
    st.caption(words.SMALL_PRINT)


if __name__ == "__main__":
    page()
