"""A drill trial in the notebook: the trials of a student, and what was drawn, done as drawn or not.

The lot exists from the moment of entry on and not before: nothing here could show the next one. Not here: who is asked
(notebook_trial_asked.py), what a tap writes (notebook_trial_taps.py).
"""

from __future__ import annotations

import polars as pl
import streamlit as st
from sqlalchemy.exc import SQLAlchemyError

from dashboard.notebook import actions, ball_counter, store, trial_actions, trial_consent
from dashboard.notebook import holds as notebook_holds
from dashboard.notebook.actions import Place
from dashboard.shell import components
from dashboard.shell.page_context import Reading
from dashboard.text import notebook, trial_sentences
from dashboard.text import trials as words
from dashboard.text.drill_sentences import Row
from dashboard.trials import listing
from dashboard.trials.listing import Trial
from warehouse.domain.trials.randomisation import FREE_PRACTICE, ORDER_MARK


def show(read: Reading, place: Place, holds: pl.DataFrame) -> None:
    """Show the trials that run and that this student takes part in or may be asked about."""
    students = read.ask("trial_student", student_id=place.student_id)
    if students.is_empty():
        return
    try:
        running = running_trials(read, place)
    except (SQLAlchemyError, OSError, ValueError):
        st.caption(words.CANNOT_READ)
        return
    student = students.row(0, named=True)
    for trial in running:
        lots = listing.of_student(place.store, "trial_lot", trial.trial_id, place.student_id)
        if lots.height:
            with st.container(border=True, key=f"trial-{trial.trial_id}"):
                st.markdown(f"**{words.SECTIONS['notebook']}: {trial.title}**")
                drawn(read, place, trial, lots.row(0, named=True), holds)
        elif student["in_evidence"]:
            with st.expander(f"{words.SECTIONS['notebook']}: {trial.title}", key=f"trial-{trial.trial_id}"):
                trial_consent.asked(read, place, trial, student, holds)


def running_trials(read: Reading, place: Place) -> list[Trial]:
    """Return the trials into which a student may be entered today."""
    return [one for one in listing.trials(read, place.now().date()) if one.state == "running"]


def told(read: Reading, place: Place) -> list[str]:
    """Return what was drawn for this student and its cautions, in words without marks, while the agreement stands."""
    said, names = [], listing.drill_names(read)
    for trial in running_trials(read, place):
        lots = listing.of_student(place.store, "trial_lot", trial.trial_id, place.student_id)
        if lots.height and "student" in listing.agreements(place.store, trial.trial_id, place.student_id):
            arm = lots["arm"][0]
            said.append(f"{trial.plan.title}: {trial_sentences.lot(arm, names).replace('**', '')}")
            said += [
                f"{notebook.CARD['caution']} {row['name']}: {notebook.caution(row['caution'])}"
                for row in listing.cautions(read, trial.plan).iter_rows(named=True)
                if row["drill_id"] in arm.split(ORDER_MARK)
            ]
    return said


def drawn(read: Reading, place: Place, trial: Trial, lot: Row, holds: pl.DataFrame) -> None:
    """Show the lot drawn for this student, and let it begin; everything else the coach may do stands beneath."""
    names = listing.drill_names(read)
    components.answer(trial_sentences.lot(lot["arm"], names))
    entered = listing.of_student(place.store, "trial_participant", trial.trial_id, place.student_id)
    if entered.height:
        st.caption(trial_sentences.entered_on(entered.row(0, named=True)))
    if "student" not in listing.agreements(place.store, trial.trial_id, place.student_id):
        st.markdown(words.WITHDRAWN_NOTE)
        return
    part = next_part(place, trial, lot["arm"])
    if part is None:
        st.markdown(words.DONE_AS_DRAWN)
    elif part == FREE_PRACTICE:
        ball_counter.count(place, trial)
    elif trial_consent.safe(read, place, trial):
        begin(read, place, trial, part, holds)
    instead(read, place, trial)
    trial_consent.withdrawal(place, trial)


def next_part(place: Place, trial: Trial, arm: str) -> str | None:
    """Return what comes next of what was drawn: free practice always, a drill until it was done as often as planned."""
    begun = store.of_student(place.store, "drill_entry", place.student_id)
    since = pl.col("starts_at").dt.date() >= trial.row["begun_on"]
    done = begun.filter((pl.col("chosen_by") == "draw") & since)["drill_id"].to_list()
    for part in arm.split(ORDER_MARK):
        if part == FREE_PRACTICE or done.count(part) < trial.plan.episodes:
            return part
    return None


def begin(read: Reading, place: Place, trial: Trial, drill_id: str, holds: pl.DataFrame) -> None:
    """Put the caution of the drill drawn, then the button that begins it, marked as drawn by lot."""
    drill = listing.cautions(read, trial.plan).row(by_predicate=pl.col("drill_id") == drill_id, named=True)
    if drill_id in notebook_holds.allowed(read.ask("drills"), holds)["drill_id"].to_list():
        components.caution(notebook.caution(drill["caution"]), f"drawn-{drill_id}")
        key = f"drill-{place.student_id}"
        if st.session_state.get(key) or st.session_state.get(f"{key}-list"):
            st.caption(notebook.DRAWN_INSTEAD)  # one drill begins, and one button says so
            return
        ticket = place.ticket("begin")
        st.button(
            words.BEGIN_DRAWN.format(drill=drill["name"]), type="primary", width="stretch", key=f"drawn-{ticket}",
            on_click=actions.begin, args=(place, ticket, drill_id, "draw"),
        )  # fmt: skip
        if drill["setup"]:
            st.markdown(drill["setup"])
    else:
        st.markdown(words.HELD_SINCE.format(drill=drill["name"]))


def instead(read: Reading, place: Place, trial: Trial) -> None:
    """Let the coach do something else, with the reason, which is kept."""
    key = f"{trial.trial_id}-{place.student_id}"
    names = dict(read.ask("drills").select("drill_id", "name").iter_rows())
    with st.popover(words.INSTEAD, width="stretch"):
        what = st.selectbox(
            words.INSTEAD_DRILL, ["", *names], format_func=lambda one: names.get(one, words.NOTHING_INSTEAD),
            key=f"instead-{key}",
        )  # fmt: skip
        reason = st.text_input(words.REASON, max_chars=200, key=f"why-{key}")
        st.button(
            words.WRITE_DECLINE, disabled=not (reason or "").strip(), key=f"instead-write-{key}",
            on_click=trial_actions.decline, args=(place, trial.trial_id, "coach", f"why-{key}", what or None),
        )  # fmt: skip
    past = listing.of_student(place.store, "trial_decline", trial.trial_id, place.student_id)
    for row in past.iter_rows(named=True):
        st.caption(trial_sentences.declined(row))
