"""Who may take part in a trial: chosen where it is planned, said where a student is asked.

Not here: the rule (warehouse/trials/eligible.py), what a tap writes (notebook_trial_taps.py).
"""

from __future__ import annotations

from dataclasses import dataclass

import streamlit as st

from dashboard.notebook import store as notebook_store
from dashboard.notebook import trial_actions
from dashboard.notebook.actions import Place
from dashboard.shell import query_cache
from dashboard.shell.page_context import Reading
from dashboard.text import trials as words
from dashboard.text.notebook_sentences import plain
from dashboard.trials import listing, suggestions
from dashboard.trials.listing import Trial
from warehouse.trials import eligible


@dataclass(frozen=True)
class Narrowed:
    """To whom a plan is narrowed: cohorts (none: all), the goal, and who that is today (None: all)."""

    cohorts: tuple[str, ...]
    goal: bool
    among: tuple[str, ...] | None


@st.cache_data(max_entries=8, show_spinner=False)
def cohorts(path: str) -> list[str]:
    """Return the academy's cohorts."""
    return eligible.cohorts_of(query_cache.connection(path).cursor())


def chosen(read: Reading, metric: str) -> Narrowed | None:
    """Let the director narrow a plan; None where nobody could take part, which is said."""
    picked = st.multiselect(
        words.COHORTS, cohorts(read.path), key="plan-cohorts", placeholder=words.COHORTS_ALL, format_func=plain
    )
    goal = st.checkbox(words.GOAL_ONLY, key="plan-goal")
    if not picked and not goal:
        return Narrowed((), False, None)
    store, con = notebook_store.opened(read.home), query_cache.connection(read.path).cursor()
    try:
        among = eligible.among(store, con, metric, picked, goal, suggestions.today_of(read))
    except ValueError as nobody:
        st.error(words.NOBODY_COULD.format(why=plain(str(nobody))))
        return None
    return Narrowed(tuple(picked), goal, among)


def may(read: Reading, place: Place, trial: Trial) -> bool:
    """Return whether a student may be asked; where not, say why and let it be counted."""
    member_of = eligible.memberships(query_cache.connection(read.path).cursor(), place.student_id)
    goal = eligible.goals(place.store).get(place.student_id)
    why = eligible.why_not(trial.plan, place.student_id, member_of, goal, place.now().date())
    if why is None:
        return True
    st.markdown(plain(why.sentence))
    if listing.of_student(place.store, eligible.INELIGIBLE, trial.trial_id, place.student_id).height:
        st.caption(words.COUNTED_OUTSIDE)
    else:
        st.button(
            words.COUNT_OUTSIDE, key=f"outside-{trial.trial_id}-{place.student_id}",
            on_click=trial_actions.outside, args=(place, trial.trial_id, why.reason),
        )  # fmt: skip
    return False
