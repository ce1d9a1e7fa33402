"""A student asked about a drill trial: cautions first, agreement or a no, then, once agreed, entered and drawn.

Not here: the lot (notebook_trial.py), what a tap writes (notebook_trial_taps.py).
"""

from __future__ import annotations

import polars as pl
import streamlit as st

from dashboard.notebook import holds as notebook_holds
from dashboard.notebook import trial_actions
from dashboard.notebook.actions import Place
from dashboard.shell import components, query_cache
from dashboard.shell.page_context import Reading
from dashboard.text import notebook, trial_sentences
from dashboard.text import trials as words
from dashboard.text.drill_sentences import Row, day
from dashboard.trials import eligibility, listing
from dashboard.trials.listing import Trial
from warehouse.notebook.store import current
from warehouse.trials import eligible, follow


def held(read: Reading, trial: Trial, holds: pl.DataFrame) -> list[str]:
    """Return the names of the trial's drills that are held for this student; a held aim holds them all."""
    return notebook_holds.names(listing.cautions(read, trial.plan), holds)


def asked(read: Reading, place: Place, trial: Trial, student: Row, holds: pl.DataFrame) -> None:
    """Say what the trial is, cautions first; take agreement, a no, or, once agreed, the entry."""
    if not eligibility.may(read, place, trial):
        return
    names = listing.drill_names(read)
    st.markdown(words.EQUAL.format(drills=trial_sentences.listed([names.get(d, d) for d in trial.plan.treatments])))
    for row in listing.cautions(read, trial.plan).iter_rows(named=True):
        components.caution(f"{row['name']}: {notebook.caution(row['caution'])}", f"{trial.trial_id}-{row['drill_id']}")
    st.caption(words.NOTEBOOK_HELP)
    stopped = held(read, trial, holds)
    if stopped:
        st.markdown(words.HELD.format(drills=trial_sentences.listed(stopped)))
        return
    if agreed(place, trial, student) and safe(read, place, trial):
        entry(read, place, trial, minor_of(student, trial))
    no(place, trial)


def safe(read: Reading, place: Place, trial: Trial) -> bool:
    """Say what went wrong with the trial's drills since it began; return whether one may be drawn or done now.

    After pain somebody looks first, and says so; a drill stopped too often is given no more.
    """
    stops = current(place.store, "stop_entry").filter(
        pl.col("drill_id").is_in(trial.plan.treatments) & (pl.col("at").dt.date() >= trial.row["begun_on"])
    )
    if stops.is_empty():
        return True
    names = listing.drill_names(read)
    con = query_cache.connection(read.path).cursor()
    state = follow.state(place.store, con, trial.trial_id, place.now().date())
    wrong = {drill: found for drill, found in state.safety.items() if found.decision != "go on"}
    for drill, found in wrong.items():
        st.warning(trial_sentences.safety(names.get(drill, drill), found.sentence))
    if any(found.decision == "stop" for found in wrong.values()):
        st.markdown(words.DRAWN_NO_MORE)
        return False
    return not wrong or st.checkbox(
        words.LOOKED_INTO, key=f"looked-{trial.trial_id}-{place.student_id}", on_change=trial_actions.look_into,
        args=(place, trial.trial_id, list(wrong)),
    )  # fmt: skip


def minor_of(student: Row, trial: Trial) -> bool:
    """Return whether the student counts as a minor: also where nobody knows, unless the coach says 18 or over."""
    if not student["age_unknown"]:
        return bool(student["minor"])
    return st.session_state.get(f"minor-{trial.trial_id}-{student['student_id']}", "yes") != "no"


def agreed(place: Place, trial: Trial, student: Row) -> bool:
    """Show the agreements that stand, ask for those that lack, and return whether all are there."""
    if student["age_unknown"]:
        st.caption(words.AGREE_UNKNOWN)
        st.segmented_control(
            words.MINOR, list(words.MINOR_CHOICES), format_func=lambda one: words.MINOR_CHOICES[one], default="yes",
            key=f"minor-{trial.trial_id}-{student['student_id']}",
        )  # fmt: skip
    minor = minor_of(student, trial)
    if minor:
        st.caption(words.AGREE_MINOR)
    st.caption(words.UNTIL_THEN)
    stands = listing.agreements(place.store, trial.trial_id, place.student_id)
    needed = ("guardian", "student") if minor else ("student",)
    for who in needed:
        if who in stands:
            st.markdown(f"{words.AGREES[who]}: {day(stands[who])}.")
            continue
        key = f"{trial.trial_id}-{place.student_id}-{who}"
        left, right = st.columns([1, 2], vertical_alignment="bottom")
        today = place.now().date()
        on = left.date_input(words.AGREED_ON, today, max_value=today, format="YYYY-MM-DD", key=f"agreed-on-{key}")
        right.button(
            words.AGREES[who], width="stretch", key=f"agree-{key}", on_click=trial_actions.agree,
            args=(place, trial.trial_id, who, on),
        )  # fmt: skip
        return False
    return True


def entry(read: Reading, place: Place, trial: Trial, minor: bool) -> None:
    """Let the coach enter the student and draw: one tap, for good."""
    st.markdown(words.READY)
    bay = read.ask("bays").row(by_predicate=pl.col("bay_id") == place.bay_id, named=True)
    gap = listing.starting_gap(read, trial.plan, place.student_id)
    if gap is None:
        st.markdown(words.NO_LEVEL)
        return
    member_of = eligible.memberships(query_cache.connection(read.path).cursor(), place.student_id)
    values = {
        "site_id": bay["site_id"], "starting_gap": gap, "minor": minor, "consent": True, "member_of": member_of,
    }  # fmt: skip
    st.button(
        words.ENTER_AND_DRAW, type="primary", width="stretch", key=f"draw-{trial.trial_id}-{place.student_id}",
        on_click=trial_actions.enter_and_draw, args=(place, trial.trial_id, values),
    )  # fmt: skip
    withdrawal(place, trial)


def no(place: Place, trial: Trial) -> None:
    """Take a no, with its reason."""
    past = listing.of_student(place.store, "trial_decline", trial.trial_id, place.student_id)
    for row in past.iter_rows(named=True):
        st.caption(trial_sentences.declined(row))
    with st.popover(words.DECLINE, width="stretch"):
        key = f"{trial.trial_id}-{place.student_id}"
        who = st.segmented_control(
            words.DECLINED_BY, list(words.DECLINERS), format_func=lambda one: words.DECLINERS[one], default="student",
            key=f"decliner-{key}",
        )  # fmt: skip
        reason = st.text_input(words.REASON, max_chars=200, key=f"reason-{key}")
        st.button(
            words.WRITE_DECLINE, disabled=not (reason or "").strip(), key=f"decline-{key}",
            on_click=trial_actions.decline, args=(place, trial.trial_id, who or "student", f"reason-{key}"),
        )  # fmt: skip


def withdrawal(place: Place, trial: Trial) -> None:
    """Offer to take the agreement back in one tap."""
    st.button(
        words.WITHDRAW, key=f"withdraw-{trial.trial_id}-{place.student_id}", on_click=trial_actions.take_back,
        args=(place, trial.trial_id),
    )  # fmt: skip
    st.caption(words.WITHDRAW_HELP)
