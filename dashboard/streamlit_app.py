"""The dashboard's entry: which pages there are, through which night they are current, and what to do without data.

Start: python -m streamlit run dashboard/streamlit_app.py -- --home DIR
"""

from __future__ import annotations

import streamlit as st

from dashboard import night_sentences, page_parts, reading, words
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
    st.html(page_parts.style())
    home = read_home()
    page = st.navigation(pages(), position="top")
    if home.published is None:
        st.title(words.QUESTIONS["week"])
        st.markdown(words.NOTHING_PUBLISHED.format(home=home.folder))
        if home.failed:
            st.warning(night_sentences.nothing_yet(home.last_run))
        return
    read = reading.begin(home)
    if home.failed:
        st.warning(night_sentences.failed_run(home.last_run))
    page.run()
    warned = words.WITH_WARNINGS if home.last_run.get("outcome") == "published with warnings" else ""
    st.caption(f"{night_sentences.freshness(read.publication)} {words.NAMES_WITHHELD} {warned}")


main()
