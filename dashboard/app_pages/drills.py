"""Coach: which drill moves this number, and does it last?"""

from __future__ import annotations

import polars as pl
import streamlit as st

from dashboard import page_parts, sentences, words
from dashboard.charts import forest
from dashboard.reading import Reading, current
from dashboard.shown import Shown


def measure_and_better(read: Reading, group: str, metric: str) -> tuple[str, str | None]:
    """Return how the number's aims are measured here, and which way is better."""
    for measure in ("centre", "distance"):
        rows = read.ask("drill_comparison", metric=metric, club_group=group, measure=measure).filter("is_aim")
        if rows.height:
            known = rows["better"].drop_nulls()
            return measure, known[0] if known.len() else None
    return "centre", None


def axis_title(measure: str, better: str | None) -> str:
    """Return what the axis shows, and which way is better."""
    way = {"up": words.BETTER_RIGHT, "down": words.BETTER_LEFT, None: ""}[better]
    return words.AXES[measure] + way


def table(rows: pl.DataFrame, shown: Shown) -> pl.DataFrame:
    """Return the rows for reading, in display units."""
    return pl.DataFrame([sentences.effect_line(row, shown) for row in rows.iter_rows(named=True)])


def page() -> None:
    """Show the drills that move one number."""
    read = current()
    page_parts.question("drills")
    if read.ask("drills").is_empty():
        st.markdown(words.EMPTY["drills"])
        return
    numbers = read.ask("drill_choices")
    if numbers.is_empty():
        st.markdown(words.EMPTY["effects"])
        return
    names = {
        f"{row['club_group']}.{row['metric']}": read.number(row["metric"], row["club_group"])
        for row in numbers.iter_rows(named=True)
    }
    group, metric = page_parts.choose_number(words.LABELS["number"], names)
    measure, better = measure_and_better(read, group, metric)
    rows = read.ask("drill_comparison", metric=metric, club_group=group, measure=measure)
    shown = read.shown(metric, group, measure)
    told = list(rows.iter_rows(named=True))
    page_parts.answer(
        sentences.best_drill(told, shown, group),
        "beyond free practice",
        "interval",
        "as it looks",
        "transfer",
        "retention",
        "smallest change that matters",
        "verdict",
        "certainty",
        "partial pooling",
    )
    chart = forest.chart(rows, shown, page_parts.look(), better, axis_title(measure, better))
    page_parts.picture(chart, [sentences.effect_in_list(row, shown) for row in told], rows, "drills-compared")
    st.markdown(words.OPEN_A_DRILL)
    in_order = forest.order(rows, better)
    ids = dict(zip(rows["name"], rows["drill_id"], strict=True))
    with st.container(horizontal=True):
        for name in in_order:
            page_parts.go("drill", name, drill=ids[name])
    with st.expander(words.TABLE_IN_WORDS):
        st.dataframe(table(rows, shown), hide_index=True, width="stretch", key="drills-table")
    st.caption(words.SMALL_PRINT["drills"])


if __name__ == "__main__":
    page()
