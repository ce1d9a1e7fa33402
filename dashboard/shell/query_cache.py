"""Frames by name: each is one query of dashboard/queries over the published file, read-only and cached.

A page asks `ask(path, "drill_effects", drill_id="D01")`. Every call names the resolved, versioned path, so that a new
publication is new data by its own key and a page never mixes two nights. Not here: what is done with a frame.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import duckdb
import polars as pl
import streamlit as st
from streamlit.logger import set_log_level

from dashboard.shell import outside_text

QUERIES = Path(__file__).parents[1] / "queries"
if not st.runtime.exists():
    set_log_level("error")  # the review runs without a server: its caches warn of that, a line a call


# Two are kept here; an older one is let go of, never closed: whoever still reads it has a cursor of their own, and with
# the last of them the file is closed and, once removed, its room on disk is free.
@st.cache_resource(max_entries=2, show_spinner=False)
def connection(path: str) -> duckdb.DuckDBPyConnection:
    """Open one published version, read-only, once for all sessions.

    Parameters
    ----------
    path
        The resolved path: in one process a second connection to the same path would show the old content.
    """
    return duckdb.connect(path, read_only=True, config={"enable_external_access": "false"})


@cache
def query(name: str) -> str:
    """Return the text of a query by its file's name.

    Raises
    ------
    FileNotFoundError
        There is no such query.
    """
    return (QUERIES / f"{name}.sql").read_text(encoding="utf-8")


# Frames are given as they are kept: nothing changes one in place. A word of its own for each would start a thread each.
@st.cache_resource(max_entries=2000, show_spinner=False)
def ask(path: str, name: str, **parameters: object) -> pl.DataFrame:
    """Return the frame that a query gives on a published version.

    Parameters
    ----------
    path
        The published version, resolved.
    name
        A file in dashboard/queries, without its ending; its comment says what one row is.
    **parameters
        The query's parameters, by name.
    """
    kept = {key: outside_text.as_kept(value) for key, value in parameters.items()}
    return outside_text.neutralise_frame(connection(path).cursor().execute(query(name), kept or None).pl())
