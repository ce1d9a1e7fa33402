"""Drills by numbers: what each drill moves, its aim first, in a table of signs and words. Not here: its words."""

from __future__ import annotations

import polars as pl
import streamlit as st

from dashboard.shell import choices, components
from dashboard.shell.page_context import Reading
from dashboard.text import matrix_sentences
from dashboard.text.drill_sentences import first_up

TAPPED, DRILL = "matrix-tapped", "matrix-drill"


def numbers(rows: pl.DataFrame) -> list[str]:
    """Return the numbers in the order of the columns: those aimed at first, then those that most drills move."""
    clear = (pl.col("ci_low") > 0) | (pl.col("ci_high") < 0)
    order = rows.group_by("metric").agg(
        pl.col("is_aim").sum().alias("aims"), clear.sum().alias("moved"), pl.len().alias("known")
    )
    return order.sort("aims", "moved", "known", "metric", descending=[True, True, True, False])["metric"].to_list()


def table(read: Reading, rows: pl.DataFrame) -> list[dict[str, str]]:
    """Return a line a drill: its name, then a cell a number; empty where nothing is known."""
    columns = {metric: first_up(read.shown(metric, "any").label) for metric in numbers(rows)}
    lines: dict[str, dict[str, str]] = {}
    for row in rows.unique(["drill_id", "metric"], keep="first", maintain_order=True).iter_rows(named=True):
        empty = {matrix_sentences.DRILL: row["name"], **dict.fromkeys(columns.values(), "")}
        line = lines.setdefault(row["drill_id"], empty)
        shown = read.shown(row["metric"], row["club_group"], row["measure"])
        line[columns[row["metric"]]] = matrix_sentences.cell(row, shown)
    return list(lines.values())


def tapped(read: Reading, rows: pl.DataFrame, known: list[str]) -> None:
    """A cell was tapped: its number is drawn below, and its drill can be opened."""
    cells = st.session_state[TAPPED].selection.cells
    if not cells:
        return
    place, column = cells[0]
    drill = rows.unique("drill_id", keep="first", maintain_order=True).row(place, named=True)
    st.session_state[DRILL] = (drill["drill_id"], drill["name"])
    of = {first_up(read.shown(metric, "any").label): metric for metric in numbers(rows)}
    wanted = [f"{group}.{of.get(column)}" for group in (drill["club_group"], "any")]
    wanted += [one for one in known if one.endswith(f".{of.get(column)}")]
    found = [one for one in wanted if one in known]
    if found:
        choices.keep("number", found[0])


def show(read: Reading, known: list[str]) -> None:
    """Show the table; a tap chooses the number of the picture below.

    Parameters
    ----------
    known
        The numbers that can be drawn, as "club group.metric".
    """
    rows = read.ask("drill_matrix")
    if rows.is_empty():
        return
    st.caption(matrix_sentences.KEY)
    st.dataframe(
        pl.DataFrame(table(read, rows)).to_arrow(), hide_index=True, width="stretch", key=TAPPED,
        column_config={matrix_sentences.DRILL: st.column_config.TextColumn(matrix_sentences.DRILL, pinned=True)},
        on_select=lambda: tapped(read, rows, known), selection_mode="single-cell",
    )  # fmt: skip
    chosen: tuple[str, str] | None = st.session_state.get(DRILL)
    if chosen:
        components.go("drill", matrix_sentences.OPEN.format(drill=chosen[1]), drill=chosen[0])
