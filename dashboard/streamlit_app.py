"""The dashboard's entry: which pages there are, through which night they are current, and what to do without data.

Start: python -m streamlit run dashboard/streamlit_app.py -- --home DIR
"""

from __future__ import annotations

import streamlit as st

from dashboard import page_parts, people_sentences, reading, words
from dashboard.home import read_home

DEFAULT = "week"


def pages() -> list[object]:
    """Return the pages in their order."""
    return [
        st.Page(f"app_pages/{name}.py", title=title, url_path=name, default=name == DEFAULT)
        for name, title in words.PAGES.items()
    ]


def main() -> None:
    """Show the page asked for between the last run's word and one line of small print."""
    st.set_page_config(page_title=words.APP, layout="wide")
    st.html(page_parts.STYLE)
    home = read_home()
    page = st.navigation(pages(), position="top")
    if home.published is None:
        st.title(words.QUESTIONS["week"])
        st.markdown(words.NOTHING_PUBLISHED.format(home=home.folder))
        if home.failed:
            st.warning(people_sentences.nothing_yet(home.last_run))
        return
    read = reading.begin(home)
    if home.failed:
        st.warning(people_sentences.failed_run(home.last_run))
    page.run()
    st.caption(f"{people_sentences.freshness(read.publication)} {words.NAMES_WITHHELD}")


main()
