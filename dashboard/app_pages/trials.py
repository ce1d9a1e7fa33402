"""Director and coach: which drill is better? Trials planned, followed and read; what to try next."""

from __future__ import annotations

import streamlit as st
from sqlalchemy.exc import SQLAlchemyError

from dashboard import page_parts, trial_next, trial_plan, trial_result, trial_running, trial_sentences
from dashboard import words_trials as words
from dashboard.reading import Reading, current
from dashboard.shell import choices
from dashboard.trial_list import Trial, drill_names, shown_of, trials
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
        trial_running.show(read, trial, trial_next.today_of(read))
    else:
        page_parts.answer(trial_sentences.not_begun(trial))
    with st.expander(words.SECTIONS["plan"], expanded=trial.state == "planned"):
        st.markdown(trial_sentences.planned(trial.plan, names, shown))
        st.markdown(words.WHO)
        st.caption(f"{words.CHECKED_BY_SUM}: `{trial.row['commitment']}`")
    if trial.state != "finished" and trial_next.may_plan():
        trial_running.ending(read, trial)


def list_of_trials(read: Reading, found: list[Trial]) -> None:
    """Show all trials, and the one chosen."""
    if not found:
        st.markdown(words.NONE_YET if trial_next.may_plan() else words.NONE_YET_READER)
        return
    page_parts.answer(trial_sentences.trials(found), "drawn by lot", "equally good", "looks", "as drawn")
    names = drill_names(read)
    lines = [trial_sentences.line(trial, names, shown_of(read, trial.plan)) for trial in found]
    page_parts.told(lines, ("trial", "state", "when", "compared", "number"), "trials")
    options = {trial.trial_id: f"{trial.plan.title} ({words.STATES[trial.state]})" for trial in found}
    chosen = page_parts.choose(words.CHOOSE_TRIAL, options, "trial")
    one_trial(read, next(trial for trial in found if trial.trial_id == chosen))


def page() -> None:
    """Show the trials."""
    read = current()
    st.title(words.QUESTIONS["trials"])
    trial_running.said()
    views = [one for one in words.VIEWS if one != "plan" or trial_next.may_plan()]
    view = choose_view(views, "trials")
    if view == "next":
        trial_next.show(read)
    elif view == "plan":
        trial_plan.show(read)
    else:
        try:
            found = trials(read, trial_next.today_of(read))
        except (SQLAlchemyError, OSError, NotebookRefused):
            st.error(words.NOTEBOOK_UNREADABLE)
            return
        list_of_trials(read, found)
    if not trial_next.may_plan():
        st.caption(words.ONLY_DIRECTOR)
    st.caption(words.SMALL_PRINT)


if __name__ == "__main__":
    page()
