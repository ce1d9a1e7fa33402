"""What a page's first run in a server has loaded is set aside from the collection of garbage.

Streamlit collects garbage after every run of a page, and looks each time at everything that lives: modules, schemas,
settings, about a tenth of a second a run, while no other page is served. Not here: anything a reader sees.
"""

from __future__ import annotations

import gc

import streamlit as st
from streamlit.runtime import Runtime


def settle(page: str) -> None:
    """After a page's first run in this process, let what then lives be looked at no more.

    What is set aside is still freed once nothing refers to it; only a circle of references among it would stay, a
    page's worth at most for each page.
    """
    if in_server():
        _settled(page)


def in_server() -> bool:
    """Return whether a real server runs the page: a test's run ends before anything could come of it."""
    return st.runtime.exists() and type(st.runtime.get_instance()) is Runtime


@st.cache_resource(show_spinner=False)
def _settled(page: str) -> None:
    """Collect what is garbage by now, and set the rest aside; once a page."""
    gc.collect()
    gc.freeze()
