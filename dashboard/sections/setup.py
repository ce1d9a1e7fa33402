"""The section on what changes of set-up went with a number. Not here: its words."""

from __future__ import annotations

import polars as pl
import streamlit as st

from dashboard.charts import setup_association
from dashboard.shell import chart_cache, components
from dashboard.shell.page_context import Reading
from dashboard.text import attention as words
from dashboard.text import setup_sentences


def show(read: Reading, metric: str, club_group: str) -> None:
    """Say and draw which changes of set-up went with changes of this number; what to do where there are too few."""
    rows = read.ask("setup_association", metric=metric, club_group=club_group)
    components.section(words.SETUP_TITLE)
    told = list(rows.iter_rows(named=True))
    st.markdown(setup_sentences.lead(told, read.number(metric, club_group)))
    shown = read.shown(metric, club_group)
    lines = [setup_sentences.line(row, shown) for row in told]
    if rows.filter(pl.col("finding") != "too few").is_empty():
        if lines:
            with st.expander(words.SETUP_SO_FAR):
                st.markdown("\n".join(f"- {line}" for line in lines))
        return
    components.words_used("association", "interval", "false discoveries")
    chart = chart_cache.drawn(setup_association.chart, rows, shown, components.look())
    components.picture(chart, lines, rows, "setup", words.SETUP_KEY)
    st.caption(words.SETUP_NOTE)
