"""The dashboard's entry: which pages there are, through which night they are current, and what to do without data.

Start: python -m streamlit run dashboard/streamlit_app.py -- --home DIR

The file is read twice: by the server, which takes `app` from it, and in every run of a page, as a script.
"""

from __future__ import annotations

import duckdb
import streamlit as st
from streamlit.starlette import App

from dashboard.shell import access, components, gc_freeze, navigation, page_context, server
from dashboard.shell.home_view import read_home
from dashboard.text import night_sentences, take_home_sentences, words

ALONE = "alone"  # the address's word for a page shown without the others, while the tablet is handed over


def main() -> None:
    """Show the page asked for between the last run's word and one line of small print."""
    st.set_page_config(page_title=words.APP, layout="wide")
    st.html(components.style())
    st.html(access.STYLE)
    home = read_home()
    person = access.enter(home)
    if person is None:
        return
    home = access.for_reader(home, person)
    alone = st.query_params.get(ALONE) == "yes"
    page = st.navigation(navigation.pages(person), position="hidden" if alone else "top")
    if home.published is None:
        st.title(words.QUESTIONS["week"])
        st.markdown(words.NOTHING_PUBLISHED.format(home=home.folder))
        if home.failed:
            st.warning(night_sentences.nothing_yet(home.last_run))
        return
    read = page_context.begin(home)
    if home.failed:
        st.warning(night_sentences.failed_run(home.last_run))
    warned = words.WITH_WARNINGS if home.last_run.get("outcome") == "published with warnings" else ""
    try:
        with st.spinner(words.READING):
            page.run()
        current = take_home_sentences.current(read.publication)
        whole = f"{night_sentences.freshness(read.publication)} {words.NAMES_WITHHELD} {warned}"
        st.caption(current if alone else whole)
    except (duckdb.CatalogException, duckdb.BinderException):
        st.error(words.OLD_FILE.format(home=home.folder))
    if not alone:
        access.may_log_out()
    gc_freeze.settle(page.url_path)


if __name__ == "__main__":
    main()
else:
    app = App(__file__, middleware=server.layers())
