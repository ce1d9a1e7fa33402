"""Balls of free practice counted in a trial's arm without a drill; then the coach's choice. Kept in the address."""

from __future__ import annotations

import streamlit as st

from dashboard import trial_sentences
from dashboard import words_trials as words
from dashboard.notebook_taps import Place

KEY = "balls"


def done(place: Place) -> int:
    """Return the balls counted today for this student."""
    kept = str(st.query_params.get(KEY, "")).rsplit(".", 1)
    return int(kept[1]) if kept[0] == whose(place) and len(kept) == 2 and kept[1].isdigit() else 0


def whose(place: Place) -> str:
    """Return whose balls are counted, on which day."""
    return f"{place.student_id}.{place.now():%Y-%m-%d}"


def add(place: Place, number: int) -> None:
    """Count some balls more; 0 begins anew."""
    st.query_params[KEY] = f"{whose(place)}.{done(place) + number if number else 0}"


def count(place: Place, most: int) -> None:
    """Count the balls, and say when it is the coach's choice."""
    hit = done(place)
    if hit >= most:
        st.markdown(f"**{words.COACHS_CHOICE}**")
    else:
        st.markdown(trial_sentences.balls(hit, most))
        left, right = st.columns(2)
        left.button(words.BALL, width="stretch", key="ball-1", on_click=add, args=(place, 1))
        right.button(words.FIVE_BALLS, width="stretch", key="ball-5", on_click=add, args=(place, min(5, most - hit)))
    if hit:
        st.button(words.RESET_BALLS, type="tertiary", key="ball-0", on_click=add, args=(place, 0))
