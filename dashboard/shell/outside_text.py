"""The one way from text of elsewhere to a page: whatever a file, a database, a login or a person says is only text.

A page prints Markdown, in which a picture is fetched, unasked, from wherever it says. Two ways, by where a text goes:
`as_text` escapes it for a sentence; `neutralise_markdown` puts a joiner without width, or a sign that looks the same,
where Markdown would see more than text, for what also stands in tables, pictures and choices. tests/dashboard/
test_outside_text.py holds every other way shut. Not here: HTML files to take away (html.escape, where they are made).
"""

from __future__ import annotations

import re
from typing import Any

import polars as pl
import streamlit as st

JOINER = "\u2060"
PAST_ESCAPES = (
    (r"[\x{202a}-\x{202e}\x{2066}-\x{2069}\x{200e}\x{200f}\x{061c}]", ""),  # turn the rest of a line around
    (r"(?i)(https?:|ftp:|www)([/.])", "${1}\u2060${2}"),  # an address that becomes a link
    (r"(?i):([a-z+_-][a-z0-9+_-]*[:\[/])", ":\u2060${1}"),  # colours and short codes of pictures
)
"""What is more than text even where Markdown's own signs are escaped, and what stands in its place."""
BLOCK = (
    r"#{1,6}(?:[ \t]|$)|>|[-+*](?:[ \t]|$)|\d{1,9}[.)](?:[ \t]|$)|`{3}|~{3}|\||:{3}|[=-]+[ \t]*$|(?:[-_*][ \t]*){3,}$"
    r"|:?-+:?[ \t]*\|"
)
MARKED = (
    (r"\]", "]\u2060"),  # pictures, links, their definitions, footnotes: none without this sign
    (r"<([A-Za-z/!?])", "<\u2060${1}"),  # HTML
    (r"&(#?[A-Za-z0-9]+;)", "&\u2060${1}"),  # a sign by its name or number
    (r"(?m)^([ \t]*)\*([ \t]|$)", "${1}\u2217${2}"),
    (rf"(?m)^([ \t]*(?:{BLOCK})|[ ]{{4}}|\t)", "\u2060${1}"),  # headings, lists, quotations, rules, tables, code
    (r"\b_([^_]+)_\b|(^|\W)_([^_]+)_(\W|$)", "${2}\u02cd${1}${3}\u02cd${4}"),
)
"""What Markdown takes for more than text, and what stands in its place, most often with a joiner that has no width."""
LOOK_ALIKE = {"*": "\u2217", "$": "\uff04", "`": "\u02cb", "~": "\u223c"}
"""Signs that come in pairs about what they mark, and those that stand in their place: no joiner parts them."""
ANY_MARK = "|".join(
    f"(?:{pattern})"
    for pattern in (
        *(pattern for pattern, _ in (*PAST_ESCAPES, *MARKED)),
        *(rf"\{sign}[^{sign}]*\{sign}" for sign in LOOK_ALIKE),
    )
)
"""Whatever one of these changes: one look at a column, most of which hold nothing of the kind, in place of a dozen."""
SIGNS = re.compile(r"([\\`*_{}\[\]()<>#+\-!|~$:&])")
NUMBERED = re.compile(r"^\d{1,9}[.)]( |$)")
_asked_by: dict[str, str] = {}
"""An id as it is shown -> as it is kept, where the two differ: pages ask by what they show."""


def as_text(text: object) -> str:
    """Return a text for a sentence, on one line, every sign of Markdown escaped."""
    line = " ".join(str(text).split())
    return (JOINER if NUMBERED.match(line) else "") + SIGNS.sub(r"\\\1", _replaced(line, PAST_ESCAPES))


def in_code(text: object) -> str:
    """Return a text for between two backticks, on one line: it cannot end them."""
    return " ".join(str(text).split()).replace("`", LOOK_ALIKE["`"])


def neutralise_markdown(text: str) -> str:
    """Return a text that is only text in a sentence, and looks the same in a table."""
    return str(_neutral(pl.Series("text", [text])).item())


def neutralise_frame(frame: pl.DataFrame) -> pl.DataFrame:
    """Return a frame whose texts are only text wherever a page prints them; ids are asked by as they were."""
    found = frame.select(pl.col(pl.String).str.contains(ANY_MARK).any())
    marked = [name for name, hurts in found.row(0, named=True).items() if hurts] if found.width else []
    for name in marked:
        neutral = _neutral(frame[name])
        if name.endswith("_id"):
            pairs = pl.DataFrame({"shown": neutral, "kept": frame[name]}).unique().drop_nulls()
            _asked_by.update(pairs.filter(pl.col("shown") != pl.col("kept")).iter_rows())
        frame = frame.with_columns(neutral)
    return frame


def neutralise_all(value: Any) -> Any:
    """Return what a JSON file holds with every text in it neutralised."""
    if isinstance(value, str):
        return neutralise_markdown(value)
    if isinstance(value, list):
        return [neutralise_all(one) for one in value]
    if isinstance(value, dict):
        return {neutralise_markdown(str(key)): neutralise_all(one) for key, one in value.items()}
    return value


def as_kept(value: Any) -> Any:
    """Return an id as the tables hold it, from how a page shows it."""
    return _asked_by.get(value, value) if isinstance(value, str) else value


def say_error(text: object) -> None:
    """Print what was wrong, in words that may come from elsewhere."""
    st.error(as_text(text))


def _neutral(texts: pl.Series) -> pl.Series:
    """Return texts of which Markdown makes nothing but text."""
    column = pl.col(texts.name)
    parted = column
    for pattern, instead in (*PAST_ESCAPES, *MARKED):
        parted = parted.str.replace_all(pattern, instead)
    for sign, instead in LOOK_ALIKE.items():
        paired = parted.str.count_matches(sign, literal=True) > 1
        parted = pl.when(paired).then(parted.str.replace_all(sign, instead, literal=True)).otherwise(parted)
    return texts.to_frame().select(parted.alias(texts.name)).to_series()


def _replaced(text: str, patterns: tuple[tuple[str, str], ...]) -> str:
    parted = pl.Series([text])
    for pattern, instead in patterns:
        parted = parted.str.replace_all(pattern, instead)
    return str(parted.item())
