"""Director and coach: which drill is better? Trials planned, followed and read; what to try next."""

from __future__ import annotations

import streamlit as st
from sqlalchemy.exc import SQLAlchemyError

from dashboard.shell import choices, components
from dashboard.shell.page_context import Reading, current
from dashboard.text import trial_sentences
from dashboard.text import trials as words
from dashboard.trials import planning, suggestions
from dashboard.trials import result as trial_result
from dashboard.trials import running as trial_running
from dashboard.trials.listing import Trial, drill_names, shown_of, trials
from warehouse.notebook.store import NotebookRefused


def choose_view(views: list[str], default: str) -> str:
    """Let the reader choose a part of the page; the address keeps it."""
    choices.take("show", "trials-view")
    choices.draw("trials-view", choices.among("show", views)[0] or default)
    picked = st.segmented_control(
        words.VIEW, views, format_func=lambda one: words.VIEWS[one], key="trials-view", label_visibility="collapsed",
        required=True,
    )  # fmt: skip
    return picked or default


def one_trial(read: Reading, trial: Trial) -> None:
    """Show a trial: its plan, then what its state has to say."""
    names, shown = drill_names(read), shown_of(read, trial.plan)
    st.header(trial.title)
    if trial.state == "finished":
        trial_result.show(read, trial)
    elif trial.state == "running":
        trial_running.show(read, trial, suggestions.today_of(read))
    else:
        components.answer(trial_sentences.not_begun(trial))
    with st.expander(words.SECTIONS["plan"], expanded=trial.state == "planned"):
        st.markdown(trial_sentences.planned(trial.plan, names, shown))
        st.markdown(words.WHO)
        st.caption(f"{words.CHECKED_BY_SUM}: `{trial.row['commitment']}`")
    if trial.state != "finished" and suggestions.may_plan():
        trial_running.ending(read, trial)


def list_of_trials(read: Reading, found: list[Trial]) -> None:
    """Show all trials, and the one chosen."""
    if not found:
        st.markdown(words.NONE_YET if suggestions.may_plan() else words.NONE_YET_READER)
        return
    components.answer(trial_sentences.trials(found), "drawn by lot", "equally good", "looks", "as drawn")
    names = drill_names(read)
    lines = [trial_sentences.line(trial, names, shown_of(read, trial.plan)) for trial in found]
    components.told(lines, ("trial", "state", "when", "compared", "number"), "trials")
    options = {trial.trial_id: f"{trial.plan.title} ({words.STATES[trial.state]})" for trial in found}
    chosen = components.choose(words.CHOOSE_TRIAL, options, "trial")
    one_trial(read, next(trial for trial in found if trial.trial_id == chosen))


def page() -> None:
    """Show the trials."""
    read = current()
    st.title(words.QUESTIONS["trials"])
    trial_running.said()
    views = [one for one in words.VIEWS if one != "plan" or suggestions.may_plan()]
    view = choose_view(views, "trials")
    if view == "next":
        suggestions.show(read)
    elif view == "plan":
        planning.show(read)
    else:
        try:
            found = trials(read, suggestions.today_of(read))
        except (SQLAlchemyError, OSError, NotebookRefused):
            st.error(words.NOTEBOOK_UNREADABLE)
            return
        list_of_trials(read, found)
    if not suggestions.may_plan():
        st.caption(words.ONLY_DIRECTOR)
    st.caption(words.SMALL_PRINT)


if __name__ == "__main__":
    page()
