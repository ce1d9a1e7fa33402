"""Balls of free practice in a trial's arm without a drill: they begin with a tap and are counted, on every tablet.

Kept in the notebook. Not here: what the night makes of them (core.free_arm).
"""

from __future__ import annotations

import streamlit as st

from dashboard.notebook import store, trial_actions
from dashboard.notebook.actions import Place
from dashboard.shell import access
from dashboard.text import notebook, trial_sentences
from dashboard.text import trials as words
from dashboard.trials.listing import Trial
from warehouse.trials import free_balls


def add(place: Place, trial_id: str, ticket: str, number: int) -> None:
    """Count some balls more, once for each drawn button; 0: they begin now."""
    by = access.current().who

    def write() -> None:
        free_balls.add(
            place.store, trial_id=trial_id, student_id=place.student_id, bay_id=place.bay_id, at=place.now(),
            balls=number, by=by, entry_id=ticket,
        )  # fmt: skip
        store.spend(place.name(kind(number)))

    trial_actions.attempt(write, notebook.WRITTEN)


def kind(number: int) -> str:
    """Return the name of the ticket for a number of balls."""
    return f"balls-{number}"


def anew(place: Place, trial_id: str) -> None:
    """Take back what was counted today."""
    by, day = access.current().who, place.now().date()
    trial_actions.attempt(lambda: free_balls.anew(place.store, trial_id, place.student_id, day, by), notebook.WRITTEN)


def count(place: Place, trial: Trial) -> None:
    """Let the balls begin, count them, and say when it is the coach's choice."""
    most = trial.plan.free_practice_balls
    since, hit = free_balls.counted(place.store, trial.trial_id, place.student_id, place.now().date())
    if since is None:
        ticket = place.ticket(kind(0))
        st.button(
            words.BALLS_BEGIN, type="primary", width="stretch", key=f"ball-0-{ticket}", on_click=add,
            args=(place, trial.trial_id, ticket, 0),
        )  # fmt: skip
        st.caption(words.BALLS_BEGIN_HELP)
    elif hit >= most:
        st.markdown(f"**{words.COACHS_CHOICE}**")
    else:
        st.markdown(trial_sentences.balls(hit, most, since))
        for column, label, number in zip(
            st.columns(2), (words.BALL, words.FIVE_BALLS), (1, min(5, most - hit)), strict=True
        ):
            ticket = place.ticket(kind(number))
            column.button(
                label, width="stretch", key=f"ball-{label}-{ticket}", on_click=add,
                args=(place, trial.trial_id, ticket, number),
            )  # fmt: skip
    if since is not None:
        st.button(words.RESET_BALLS, type="tertiary", key="ball-anew", on_click=anew, args=(place, trial.trial_id))
