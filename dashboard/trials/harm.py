"""A trial stopped for harm: the kind, which must be said, and a sentence, which may; then how it is told.

Not here: when a drill is stopped too often (warehouse/domain/trials/interim_look.py), what is written (trials/book.py).
"""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from dashboard.shell import access
from dashboard.text import trial_sentences
from dashboard.text import trials as words
from dashboard.trials.listing import Trial
from warehouse.notebook.trial_tables import HARMS


def form(trial: Trial, place: str, stop: Callable[[str, str], None]) -> None:
    """Ask for the kind of harm and offer to stop at once.

    Parameters
    ----------
    place
        Where on the page it stands; part of the keys.
    stop
        Called with the keys of kind and words.
    """
    keys = tuple(f"harm-{what}-{place}-{trial.trial_id}" for what in ("kind", "words"))
    st.markdown(words.STOP_FOR_HARM_HELP)
    kind = st.segmented_control(
        words.HARM_KIND, list(HARMS), format_func=lambda one: words.HARM_KINDS[one], key=keys[0]
    )
    st.text_input(words.HARM_WORDS, max_chars=200, key=keys[1])
    st.button(
        # A disabled primary button's words cannot be read.
        words.STOP_FOR_HARM, type="primary" if kind else "secondary", disabled=kind is None,
        key=f"harm-{place}-{trial.trial_id}", on_click=stop, args=keys,
    )  # fmt: skip


def told(trial: Trial) -> list[str]:
    """Say that a trial was stopped for harm, and why; the sentence as typed only to who sees names; else empty."""
    if not trial.row["harm_kind"]:
        return []
    return [trial_sentences.stopped(trial.row, access.current().sees_names)]
