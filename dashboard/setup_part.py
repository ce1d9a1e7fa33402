"""The section on what changes of set-up went with a number. Not here: its words."""

from __future__ import annotations

import polars as pl
import streamlit as st

from dashboard import drawing, page_parts, setup_sentences
from dashboard import words_attention as words
from dashboard.charts import setup_association
from dashboard.reading import Reading


def show(read: Reading, metric: str, club_group: str) -> None:
    """Say and draw which changes of set-up went with changes of this number; what to do where there are too few."""
    rows = read.ask("setup_association", metric=metric, club_group=club_group)
    page_parts.section(words.SETUP_TITLE)
    told = list(rows.iter_rows(named=True))
    st.markdown(setup_sentences.lead(told, read.number(metric, club_group)))
    shown = read.shown(metric, club_group)
    lines = [setup_sentences.line(row, shown) for row in told]
    if rows.filter(pl.col("finding") != "too few").is_empty():
        if lines:
            with st.expander(words.SETUP_SO_FAR):
                st.markdown("\n".join(f"- {line}" for line in lines))
        return
    page_parts.words_used("association", "interval", "false discoveries")
    chart = drawing.drawn(setup_association.chart, rows, shown, page_parts.look())
    page_parts.picture(chart, lines, rows, "setup", words.SETUP_KEY)
    st.caption(words.SETUP_NOTE)
