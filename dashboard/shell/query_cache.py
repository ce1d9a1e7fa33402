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

QUERIES = Path(__file__).parents[1] / "queries"
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
    return inert(connection(path).cursor().execute(query(name), parameters or None).pl())


PICTURE = (r"\]\(", "]\u2060(")
PAST_ESCAPES = (
    (r"[\x{202a}-\x{202e}\x{2066}-\x{2069}\x{200e}\x{200f}\x{061c}]", ""),  # turn the rest of a line around
    (r"(?i)(https?:|ftp:|www)([/.])", "${1}\u2060${2}"),  # an address that becomes a link
    (r"(?i):([a-z+_-][a-z0-9+_-]*[:\[/])", ":\u2060${1}"),  # colours and short codes of pictures
)
"""What is more than text even where Markdown's own signs are escaped, and what stands in its place."""
MARKED = (
    (r"<([A-Za-z/!?])", "<\u2060${1}"),  # HTML
    (r"^(\s*)([#>])", "${1}\u2060${2}"),  # headings, quotations
    (r"\b_([^_]+)_\b|(^|\W)_([^_]+)_(\W|$)", "${2}\u02cd${1}${3}\u02cd${4}"),
)
"""What Markdown takes for more than text, and what stands in its place, most often with a joiner that has no width."""
LOOK_ALIKE = {"*": "\u2217", "$": "\uff04", "`": "\u02cb", "~": "\u223c"}
"""Signs that come in pairs about what they mark, and those that stand in their place: no joiner parts them."""
ANY_MARK = "|".join(
    f"(?:{pattern})"
    for pattern in (
        *(pattern for pattern, _ in (PICTURE, *PAST_ESCAPES, *MARKED)),
        *(rf"\{sign}[^{sign}]*\{sign}" for sign in LOOK_ALIKE),
    )
)
"""Whatever one of these changes: one look at a column, most of which hold nothing of the kind, in place of a dozen."""


def inert(frame: pl.DataFrame) -> pl.DataFrame:
    """Return a frame whose texts are only text where a page prints them: Markdown in a name is parted.

    A picture in a drill's name would be fetched, unasked, from wherever it says. Ids stay as they are but for pictures:
    they are asked by.
    """
    found = frame.select(pl.col(pl.String).str.contains(ANY_MARK).any())
    hurting = [name for name, hurts in found.row(0, named=True).items() if hurts] if found.width else []
    return frame.with_columns(_parted(name) for name in hurting) if hurting else frame


def _parted(name: str) -> pl.Expr:
    parted = pl.col(name)
    if name.endswith("_id"):
        return parted.str.replace_all(*PICTURE)
    for pattern, instead in (PICTURE, *PAST_ESCAPES, *MARKED):
        parted = parted.str.replace_all(pattern, instead)
    for sign, instead in LOOK_ALIKE.items():
        paired = parted.str.count_matches(sign, literal=True) > 1
        parted = pl.when(paired).then(parted.str.replace_all(sign, instead, literal=True)).otherwise(parted)
    return parted.alias(name)


def past_escapes(text: str) -> str:
    """Return a text of which escaping Markdown's signs leaves nothing but text."""
    parted = pl.Series([text])
    for pattern, instead in PAST_ESCAPES:
        parted = parted.str.replace_all(pattern, instead)
    return str(parted.item())
