"""What to try next: which trial would change most decisions of this academy, ranked, in plain words."""

from __future__ import annotations

from datetime import date

import polars as pl
import streamlit as st

from dashboard.charts import trial_value
from dashboard.notebook import store
from dashboard.shell import access, chart_cache, components, query_cache
from dashboard.shell.page_context import Reading
from dashboard.text import trial_plan_sentences
from dashboard.text import trials as words
from dashboard.text.drill_sentences import Row
from dashboard.trials.listing import drill_names
from warehouse.domain.trials.power import Design
from warehouse.trials import planning, proposal
from warehouse.trials.plan import Plan

SHOWN = 8
LINKED = 3
FOLLOWED = 0.8
"""Share of those drawn whose outcome is expected, as a plan has it at first."""


@st.cache_data(max_entries=16, show_spinner="Weighing what could be tried …")
def ranked(path: str) -> pl.DataFrame:
    """Return every pair that could be drawn, ranked (trial_value.CANDIDATE); kept by published version."""
    times = proposal.looks_cost(Plan.rule)
    return planning.what_next(query_cache.connection(path).cursor(), design=Design(followed=FOLLOWED), times=times)


def drill_pairs(read: Reading) -> pl.DataFrame:
    """Return the ranked pairs."""
    return ranked(read.path)


def label(row: Row, names: dict[str, str]) -> str:
    """Return a pair in words."""
    return f"{names.get(row['drill_id'], row['drill_id'])} / {names.get(row['against'], row['against'])}"


def number(read: Reading, row: Row) -> str:
    """Return a pair's number in words."""
    return read.number(row["metric"], row["club_group"]).lower()


def may_plan() -> bool:
    """Return whether this reader plans, looks at and ends trials."""
    return access.current().role in ("administrator", "director")


def show(read: Reading) -> None:
    """Show the list: sentence, picture, pairs that could be drawn, and those that should not, with why."""
    names, pairs = drill_names(read), drill_pairs(read)
    if pairs.is_empty():
        st.markdown(words.NEXT_EMPTY)
        return
    open_pairs = list(pairs.filter(pl.col("reason").is_null()).iter_rows(named=True))
    best = open_pairs[0] if open_pairs else None
    components.answer(
        trial_plan_sentences.next_answer(open_pairs, names, number(read, best) if best else ""),
        "value of knowing", "equally good", "drawn by lot", "smallest change that matters",
    )  # fmt: skip
    top = open_pairs[:SHOWN]
    if top:
        drawn = pl.DataFrame(
            [{"label": f"{place}. {label(row, names)}", "value": row["value"], "reads": trial_plan_sentences.needs(row)}
             for place, row in enumerate(top, 1)]
        )  # fmt: skip
        told = [trial_plan_sentences.candidate(row, names, number(read, row)) for row in top]
        chart = chart_cache.drawn(trial_value.chart, drawn, components.look())
        components.picture(chart, told, pairs, "what-next", words.KEY_VALUE)
        for place, (row, sentence) in enumerate(zip(top, told, strict=True), 1):
            st.markdown(f"{place}. {sentence}")
            if may_plan() and place <= LINKED:
                components.go("trials", words.PLAN_THIS, **plan_address(row))
    closed = list(pairs.filter(pl.col("reason").is_not_null()).iter_rows(named=True))
    if closed:
        with st.expander(words.SECTIONS["closed"]):
            lines = [trial_plan_sentences.candidate(row, names, number(read, row)) for row in closed]
            st.markdown("\n".join(f"- {one}" for one in lines))
    st.caption(words.NEXT_HELP)


def plan_address(row: Row) -> dict[str, str]:
    """Return the address of the plan for a pair."""
    return {
        "show": "plan", "number": f"{row['club_group']}.{row['metric']}",
        "drills": f"{row['drill_id']},{row['against']}",
    }  # fmt: skip


def today_of(read: Reading) -> date:
    """Return the academy's day: that of its first bay."""
    bays = read.ask("bays")
    return store.now(bays["timezone"][0]).date() if bays.height else date.today()
