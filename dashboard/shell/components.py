"""The parts that every page is made of: question, answer, picture with its twins, choices kept in the URL.

Not here: what a page says (app_pages/), nor colours (theme.py).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import polars as pl
import streamlit as st

from dashboard.shell import access, chart_cache, choices, page_context
from dashboard.shell.chart_cache import Drawing
from dashboard.shell.number_format import Shown
from dashboard.shell.theme import LIGHT, LOOKS, Look
from dashboard.text import attention, notebook_sentences, trials, words
from warehouse.query.guard import to_csv_safe

TERMS = {**words.TERMS, **trials.TERMS, **attention.TERMS}


def look() -> Look:
    """Return the colours of the reader's theme."""
    return LOOKS.get(st.context.theme.type or "light", LIGHT)


def of_look(meaning: str) -> str:
    """Return the CSS colour of a meaning in both looks: a page that stands open changes its look without a run."""
    return f"light-dark({getattr(LIGHT, meaning)}, {getattr(LOOKS['dark'], meaning)})"


def style() -> str:
    """Return what the theme file cannot say: the answer's size, a caution's rule, small print that can be read."""
    return f"""<style>
.block-container {{max-width: 1180px; padding-top: 4.2rem;}}
[class*="st-key-wraps"] [data-testid="stHorizontalBlock"] {{flex-wrap: wrap;}}
.st-key-wraps-levels [data-testid="stColumn"] {{min-width: min(26rem, 100%);}}
.st-key-wraps-goals [data-testid="stColumn"] {{min-width: min(21rem, 100%);}}
.st-key-wraps-sql [data-testid="stColumn"] {{min-width: 22rem;}}
[data-testid="stLayoutWrapper"]:has(> .st-key-student-head) {{position: sticky; top: 3.75rem; z-index: 90;}}
.st-key-student-head {{background: {of_look("paper")}; border-bottom: 1px solid {of_look("grid")}; padding: .25rem 0;}}
[class*="st-key-answer"] p {{font-size: 1.2rem; line-height: 1.5;}}
[class*="st-key-caution"] p {{border-left: 4px solid {of_look("warning")}; padding-left: .7rem;}}
[data-testid^="stBaseButton-primary"] p, [data-tag], [data-tag] * {{color: {of_look("paper")};}}
[data-testid="stCaptionContainer"], [data-testid="stCaptionContainer"] p {{color: {of_look("quiet")}; opacity: 1;}}
</style>"""


def question(page: str) -> None:
    """Put the page's question as its title."""
    st.title(words.QUESTIONS[page])


def section(text: str, anchor: str | None = None) -> None:
    """Put the heading of a part of the page: the level below the question, so that none is left out between."""
    st.header(text, anchor=anchor)


def answer(text: str, *terms: str) -> None:
    """Put the answer as one sentence, with a sentence of help for each word of statistics in it."""
    with st.container(key=f"answer-{abs(hash(text))}"):
        st.markdown(text)
    words_used(*terms)


def words_used(*terms: str) -> None:
    """Offer one sentence of help for each term."""
    if terms:
        with st.popover(words.WORDS_USED, type="tertiary", icon=":material/help:"):
            for term in terms:
                st.markdown(f"**{term[:1].upper()}{term[1:]}.** {TERMS[term]}")


def caution(text: str, key: str) -> None:
    """Put a caution where it cannot be passed over: a word and a rule, not a colour alone."""
    with st.container(key=f"caution-{key}"):
        st.markdown(f"**Caution.** {text}")


def picture(chart: Drawing, lines: Sequence[str], table: pl.DataFrame, name: str, key: str = "") -> None:
    """Draw a chart, with its text twin and the table behind it.

    Parameters
    ----------
    chart
        What drawing.drawn returned.
    lines
        The same in words, a line for each thing drawn.
    table
        The frame it was drawn from, as the tables hold it, for the download.
    name
        Unique on the page; the download's file name.
    key
        What the marks mean, where labels in the picture do not say it.
    """
    if key:
        st.caption(key)
    chart_cache.show(chart, key=f"chart-{name}")
    with st.expander(words.READ_AS_TEXT):
        st.markdown("\n".join(f"- {line}" for line in lines))
        table_and_download(table, name)


def behind(table: pl.DataFrame, name: str, title: str = words.TABLE_BEHIND) -> None:
    """Offer the table and its download."""
    with st.expander(title):
        table_and_download(table, name)


def table_and_download(table: pl.DataFrame, name: str) -> None:
    """Put a frame as the tables hold it, with its download."""
    _rows(table, f"table-{name}")
    st.caption(words.CANONICAL_UNITS)
    access.download(
        words.DOWNLOAD_CSV,
        lambda: to_csv_safe(table),
        f"{name}.csv",
        "text/csv",
        home=page_context.current().home,
        key=f"csv-{name}",
    )


def decimals(columns: Mapping[str, tuple[str, Shown | int | str]]) -> dict[str, object]:
    """Return column settings: title, and decimals (of a metric, or a count), "date", "text", or "number" in words."""
    settings: dict[str, object] = {}
    for column, (title, kind) in columns.items():
        if isinstance(kind, int):
            settings[column] = st.column_config.NumberColumn(title, format=f"%.{kind}f")
        elif isinstance(kind, Shown):
            unit = f" ({kind.unit})" if kind.unit else ""
            settings[column] = st.column_config.NumberColumn(f"{title}{unit}", format=f"%.{kind.change_decimals}f")
        elif kind == "number":
            settings[column] = st.column_config.TextColumn(title, alignment="right")
        elif kind == "date":
            settings[column] = st.column_config.DateColumn(title, format="D MMM YYYY")
        else:
            settings[column] = st.column_config.TextColumn(title)
    return settings


def listing(table: pl.DataFrame, columns: Mapping[str, tuple[str, Shown | int | str]], name: str) -> None:
    """Show a table for reading: chosen columns, titles in words, numbers right-aligned with their decimals."""
    for_display = table.select(
        (pl.col(column) / kind.per).alias(column)
        if isinstance(kind, Shown)
        else (pl.col(column).fill_null("") if kind == "text" else pl.col(column))
        for column, (_, kind) in columns.items()
    )
    _rows(for_display, f"list-{name}", decimals(columns))


def told(rows: Sequence[Mapping[str, str | int]], left: Sequence[str], name: str) -> None:
    """Show lines made of words and numbers with their units; all but the columns in `left` are right-aligned."""
    settings = {
        column: st.column_config.TextColumn(column, alignment="left" if column in left else "right")
        for column, value in rows[0].items()
        if isinstance(value, str)
    }
    _rows(pl.DataFrame(rows), f"told-{name}", settings)


def _rows(frame: pl.DataFrame, key: str, columns: Mapping[str, Any] | None = None) -> None:
    """Put rows on the page as they are; by way of pandas they would take five times as long."""
    st.dataframe(frame.to_arrow(), hide_index=True, width="stretch", column_config=columns, key=key)


def choose(
    label: str, options: Mapping[str, str], key: str, default: str | None = None, help: str | None = None
) -> str:
    """Let the reader choose one of the options; what they chose is kept, and is the URL's parameter `key`.

    Parameters
    ----------
    options
        Value in the URL -> text shown; at least one.
    default
        Shown where nothing was chosen that is an option; kept nowhere.
    """
    fallback = default if default in options else next(iter(options))
    picked = _list_of(label, options, key, fallback, help=help)
    assert picked is not None
    return picked


def choose_person(label: str, options: Mapping[str, str], key: str = "student") -> str | None:
    """Let the reader choose a person; nobody until they do."""
    picked = _list_of(label, options, key, None, placeholder=words.CHOOSE_A_STUDENT)
    if picked is None:
        st.markdown(words.CHOOSE_A_STUDENT)
    return picked


def _list_of(
    label: str, options: Mapping[str, str], key: str, fallback: str | None, help: str | None = None,
    placeholder: str | None = None,
) -> str | None:  # fmt: skip
    widget = f"choice-{key}"
    choices.take(key, widget)
    picked, missing = choices.among(key, options)
    choices.draw(widget, fallback if picked is None else picked)
    if missing is not None and key in words.NAMED_IN_ADDRESS and key in st.query_params:
        asked = notebook_sentences.plain(missing[:40])
        st.info(words.NOT_HERE.format(what=words.NAMED_IN_ADDRESS[key], value=asked))
    return st.selectbox(
        label, list(options), index=None if fallback is None else 0, format_func=lambda value: options[value],
        key=widget, help=help, placeholder=placeholder,
    )  # fmt: skip


def switch(label: str, key: str) -> bool:
    """Let the reader switch something on; the address holds `key=yes` while it is on."""
    on = st.toggle(label, value=st.query_params.get(key) == "yes", key=f"switch-{key}")
    if on:
        st.query_params[key] = "yes"
    elif key in st.query_params:
        del st.query_params[key]
    return on


def choose_number(label: str, names: Mapping[str, str], default: str | None = None) -> tuple[str, str]:
    """Let the reader choose a number by "club group.metric"; return club group and metric."""
    group, metric = choose(label, names, "number", default).split(".", 1)
    return group, metric


def go(page: str, label: str, **parameters: str) -> None:
    """Link to another page with its choices."""
    st.page_link(f"app_pages/{page}.py", label=label, icon=":material/arrow_forward:", query_params=parameters)
