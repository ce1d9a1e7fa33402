"""The dashboard's entry: which pages there are, through which night they are current, and what to do without data.

Start: python -m streamlit run dashboard/streamlit_app.py -- --home DIR

The file is read twice: by the server, which takes `app` from it, and in every run of a page, as a script.
"""

from __future__ import annotations

import logging

import duckdb
import streamlit as st
from sqlalchemy.exc import SQLAlchemyError
from streamlit.starlette import App

from dashboard.shell import (
    access,
    components,
    gc_freeze,
    home_view,
    navigation,
    outside_text,
    page_context,
    server,
)
from dashboard.shell.home_view import read_home
from dashboard.text import faults, night_sentences, take_home_sentences, words
from warehouse.notebook.store import NotebookRefused

LOG = logging.getLogger(__name__)
# What the database says of a file that is damaged, cut short or gone.
UNREADABLE = (duckdb.IOException, duckdb.FatalException, duckdb.InternalException, duckdb.SerializationException)
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
    version = home.published
    try:
        home = access.for_reader(home, person)
    except UNREADABLE:
        passed_over(version)
        return
    alone = st.query_params.get(ALONE) == "yes"
    page = st.navigation(navigation.pages(person), position="hidden" if alone else "top")
    st.set_page_config(page_title=f"{page.title} · {words.APP}")
    if home.published is None:
        say_nothing_published(home)
        return
    if home.damaged:
        st.warning(faults.DAMAGED)
    read = page_context.begin(home)
    for failed in filter(None, [home.failed and night_sentences.failed_run(home.last_run)]):
        st.warning(failed)
    warned = words.WITH_WARNINGS if home.last_run.get("outcome") == "published with warnings" else ""
    try:
        for old in filter(None, [night_sentences.age(read.publication, home.today)]):
            st.warning(old)
        with st.spinner(words.READING):
            page.run()
        current = take_home_sentences.current(read.publication)
        whole = f"{night_sentences.freshness(read.publication)} {words.NAMES_WITHHELD} {warned}"
        st.caption(current if alone else whole)
    except (duckdb.CatalogException, duckdb.BinderException):
        st.error(words.OLD_FILE.format(home=home.folder))
    except UNREADABLE:
        passed_over(version)
    except (SQLAlchemyError, NotebookRefused) as fault:
        LOG.error("the notebook", exc_info=fault)
        outside_text.say_error(fault if isinstance(fault, NotebookRefused) else faults.NOTEBOOK)
    if not alone:
        access.may_log_out()
    gc_freeze.settle(page.url_path)


def say_nothing_published(home: home_view.Home) -> None:
    """Say that there is no night to read, or none that is whole, and why the last run did not publish."""
    st.title(words.QUESTIONS["week"])
    said = faults.ALL_DAMAGED if home.damaged else words.NOTHING_PUBLISHED
    (st.error if home.damaged else st.markdown)(said.format(home=home.folder))
    if home.failed:
        st.warning(night_sentences.nothing_yet(home.last_run))


def passed_over(version: str | None) -> None:
    """Read a version that broke no more, and begin anew with an older one; say so where that was done before."""
    if version is not None and home_view.pass_over(version):
        st.rerun()
    st.error(faults.UNREADABLE)


if __name__ == "__main__":
    main()
else:
    app = App(__file__, middleware=server.layers(), on_script_error=server.on_fault)
