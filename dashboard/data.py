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

QUERIES = Path(__file__).parent / "queries"
if not st.runtime.exists():
    set_log_level("error")  # the review runs without a server: its caches warn of that, a line a call


def close(connection: duckdb.DuckDBPyConnection) -> None:
    """Let go of a published file that nobody reads any more."""
    connection.close()


# Two stay open: a page that began before a publication reads on; older ones, once removed, free their room on disk.
@st.cache_resource(max_entries=2, show_spinner=False, on_release=close)
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


@st.cache_data(max_entries=2000, show_spinner="Reading last night's numbers …")
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
    return inert(connection(path).cursor().execute(query(name), parameters or None).pl())


def inert(frame: pl.DataFrame) -> pl.DataFrame:
    """Return a frame whose names are no pictures or links where a page prints them: Markdown's `](` is parted.

    A picture in a drill's name would be fetched, unasked, from wherever it says.
    """
    texts = frame.select(pl.col(pl.String))
    hurting = [column.name for column in texts if column.str.contains("](", literal=True).any()]
    return frame.with_columns(pl.col(hurting).str.replace_all("](", "]\u2060(", literal=True)) if hurting else frame
