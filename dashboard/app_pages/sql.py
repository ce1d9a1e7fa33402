"""Analyst: anything else, asked of the published file."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import streamlit as st

from dashboard.charts import query_result
from dashboard.shell import access, chart_cache, components, gc_freeze, outside_text
from dashboard.shell.page_context import Reading, current
from dashboard.text import night_sentences, words
from warehouse.query import guard, worker_process

ROWS = 10_000
KEY = "sql"
# The query whose line of use is written: pressing Run, or another query, writes another.
WRITTEN_DOWN = "sql-written-down"
# The query that was run: by the button of this session, never by an address.
RAN = "sql-ran"


def editor() -> str | None:
    """Let the reader write a query, take an example, or read one that came with the address; return the one run.

    What comes with an address is shown and waits for Run: a link, or a hidden frame, must not ask for anybody.
    """
    example = st.selectbox(
        words.LABELS["example"],
        list(words.SQL_EXAMPLES),
        index=None,
        key="sql-example",
        placeholder=words.SQL_PLACEHOLDER,
    )
    if example and example != st.session_state.get("sql-taken"):
        st.session_state["sql-taken"] = example
        st.session_state["sql-text"] = words.SQL_EXAMPLES[example]
    given = st.query_params.get(KEY)
    if "sql-text" not in st.session_state:
        st.session_state["sql-text"] = given or next(iter(words.SQL_EXAMPLES.values()))
    with st.form("sql-form", border=False):  # Ctrl+Enter in it runs what is written, as the button does
        text = st.text_area(words.SQL_LABEL, key="sql-text", height=220)
        pressed = st.form_submit_button(words.SQL_RUN, type="primary", key="sql-run")
    if pressed:
        st.query_params[KEY] = st.session_state[RAN] = text
        st.session_state.pop(WRITTEN_DOWN, None)
    elif given == text and st.session_state.get(RAN) != given:
        st.caption(words.SQL_NOT_RUN)
    # Another query is written above by now: what the last one gave does not stand under it.
    return text if st.session_state.get(RAN) == text else None


def result(read: Reading, sql: str) -> None:
    """Run the query and show what came, how long it took, and the ways to take it away."""
    if st.session_state.get(WRITTEN_DOWN) != sql:
        access.record_use(read.home, "sql", sql)
        st.session_state[WRITTEN_DOWN] = sql
    try:
        with st.spinner(words.SQL_RUNNING):
            found = guard.run(Path(read.path), sql, max_rows=ROWS)
    except guard.QueryRefused as refused:
        outside_text.say_error(refused)
        return
    st.code(sql, language="text")  # what is written above may go on: the result stands under its own query
    st.markdown(night_sentences.rows_found(found.frame.height, found.truncated, found.seconds, read.publication))
    table = guard.to_table(found.frame)
    days = [name for name, kind in table.schema.items() if kind == pl.Date]
    dates = {name: st.column_config.DateColumn(format="YYYY-MM-DD") for name in days}
    st.dataframe(table.to_arrow(), hide_index=True, width="stretch", column_config=dates, key="sql-result")
    with st.container(horizontal=True):
        access.download(
            words.DOWNLOAD_CSV,
            lambda: guard.to_csv_safe(found.frame),
            "result.csv",
            "text/csv",
            home=read.home,
            key="sql-csv",
            detail=sql,
        )
        access.download(
            words.DOWNLOAD_PARQUET,
            lambda: guard.to_parquet(found.frame),
            "result.parquet",
            "application/octet-stream",
            home=read.home,
            key="sql-parquet",
            detail=sql,
        )
    draw(table)
    with st.expander(words.SQL_PLAN):
        if st.button(words.SQL_SHOW_PLAN, key="sql-plan"):
            show_plan(read, sql)
    st.caption(words.SQL_PERMALINK)


def show_plan(read: Reading, sql: str) -> None:
    """Show how the database ran the query."""
    try:
        st.code(guard.explain(Path(read.path), sql).plan, language="text")
    except guard.QueryRefused as refused:
        outside_text.say_error(refused)


def draw(frame: pl.DataFrame) -> None:
    """Draw one column of the result against another, where it has numbers."""
    values = query_result.numbers(frame)
    if frame.width < 2 or frame.is_empty() or not values:
        return
    with st.expander(words.SQL_DRAW):
        across = st.selectbox(words.SQL_ACROSS, frame.columns, key="sql-across")
        value = st.selectbox(words.SQL_VALUE, [name for name in values if name != across] or values, key="sql-value")
        chart_cache.show(chart_cache.drawn(query_result.chart, frame, across, value, components.look()))


def dictionary(read: Reading) -> None:
    """Show the columns of one table."""
    components.section(words.SECTIONS["dictionary"])
    rows = read.ask("dictionary")
    if rows.is_empty():
        return
    tables = rows["table_name"].unique().sort().to_list()
    table = components.choose(words.LABELS["table"], {name: name for name in tables}, "table", "mart.drill_effect")
    own = rows.filter(pl.col("table_name") == table)
    about = own.filter(pl.col("column_name") == "")
    if about.height:
        st.markdown(about["description"][0])
    columns = {
        "column_name": ("column", "text"),
        "description": ("what it holds", "text"),
        "unit": ("unit", "text"),
        "type": ("type", "text"),
    }
    components.listing(own.filter(pl.col("column_name") != ""), columns, "dictionary")


def page() -> None:
    """Show the SQL page."""
    read = current()
    components.question("sql")
    st.markdown(words.SQL_HELP)
    with st.container(key="wraps-sql"):
        wide, narrow = st.columns([3, 2], gap="medium")
    with wide:
        sql = editor()
        if sql:
            result(read, sql)
    with narrow:
        dictionary(read)
    st.caption(words.SMALL_PRINT["sql"])
    if gc_freeze.in_server():
        worker_process.make_ready()


if __name__ == "__main__":
    page()
