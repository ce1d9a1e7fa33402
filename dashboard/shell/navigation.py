"""Which pages a person has, and under which addresses. Not here: who may open which (access.py)."""

from __future__ import annotations

import streamlit as st

from dashboard.shell.access import Person
from dashboard.text import notebook, trials, words

ROOT = "start"
"""Reserved for the page at the root, which is reached by the bare address."""


def pages(person: Person) -> list[object]:
    """Return the pages that a person may open, in their order; the first opens where the address names none."""
    titles = {**words.PAGES, **notebook.PAGES, **trials.PAGES}
    first = person.pages[0]
    shown = [
        st.Page(
            f"app_pages/{name}.py", title=titles[name], url_path=ROOT if name == first else name, default=name == first
        )
        for name in person.pages
    ]
    # The page at the root has no path of its own: its name, typed as an address, would be told that it is not there.
    return [*shown, st.Page(f"app_pages/{first}.py", title=titles[first], url_path=first, visibility="hidden")]
