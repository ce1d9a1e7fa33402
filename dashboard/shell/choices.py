"""What a person chose: it stays chosen on every page until they choose something else, and the address shows it.

A page's own default is no choice: it is shown where nothing is chosen, and neither kept nor written into the address.
Not here: the lists and buttons by which people choose.
"""

from __future__ import annotations

from collections.abc import Collection

import streamlit as st

KEPT = "chosen"
DRAWN = "drawn"
"""Widget -> what it showed when it was last drawn."""
DEPEND_ON = {"student": ("practise", "episode", "balls", "ball"), "drill": ("clubs",)}
"""A choice -> the choices that were made for it, and are no choices for another."""


def kept() -> dict[str, str]:
    """Return what is chosen in this session: name -> value."""
    return st.session_state.setdefault(KEPT, {})


def keep(key: str, value: str | None) -> None:
    """Keep what a person chose, for every page; None: they took their choice back."""
    before = kept().get(key)
    if value is None:
        kept().pop(key, None)
        st.query_params.pop(key, None)
    else:
        kept()[key] = value
        if st.query_params.get(key) != value:
            st.query_params[key] = value
    if before is not None and before != value:
        for name in DEPEND_ON.get(key, ()):
            kept().pop(name, None)
            st.query_params.pop(name, None)


def take(key: str, widget: str) -> None:
    """Keep what a person chose in a widget since it was drawn."""
    drawn = st.session_state.get(DRAWN, {})
    if widget in st.session_state and widget in drawn and st.session_state[widget] != drawn[widget]:
        keep(key, st.session_state[widget])


def draw(widget: str, value: str | None) -> None:
    """Let a widget, drawn next, show a value."""
    st.session_state[widget] = st.session_state.setdefault(DRAWN, {})[widget] = value


def chosen(key: str) -> str | None:
    """Return what a person chose: by the address they opened, else on this or another page before."""
    wanted = st.query_params.get(key)
    if wanted is None:
        return kept().get(key)
    before = kept().get(key)
    if wanted != before:
        kept()[key] = wanted
        if before is not None:
            for name in DEPEND_ON.get(key, ()):
                kept().pop(name, None)
    return wanted


def among(key: str, options: Collection[str]) -> tuple[str | None, str | None]:
    """Return the choice that is one of the options, else None; then one that was asked for and is not among them."""
    wanted = chosen(key)
    if wanted is None or wanted in options:
        if wanted is not None and st.query_params.get(key) != wanted:
            st.query_params[key] = wanted
        return wanted, None
    return None, wanted
