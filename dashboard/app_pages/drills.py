"""Coach: which drill moves this number, and does it last?"""

from __future__ import annotations

import streamlit as st

from dashboard.charts import forest
from dashboard.sections import drill_matrix, setup
from dashboard.sections.goal_numbers import drill_rows
from dashboard.shell import chart_cache, components
from dashboard.shell.page_context import current
from dashboard.text import drill_sentences, matrix_sentences, words


def page() -> None:
    """Show the drills that move one number."""
    read = current()
    components.question("drills")
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
    drill_matrix.show(read, list(names))
    components.section(matrix_sentences.ONE_NUMBER)
    group, metric = components.choose_number(words.LABELS["number"], names)
    rows, measure, better = drill_rows(read, group, metric)
    others = components.switch(words.OTHER_AIMS, "others")
    rows = rows if others else rows.filter("is_aim")
    shown = read.shown(metric, group, measure)
    told = list(rows.iter_rows(named=True))
    components.answer(
        drill_sentences.best_drill(told, shown, group),
        "beyond free practice",
        "interval",
        "as it looks",
        "transfer",
        "retention",
        "smallest change that matters",
        "verdict",
        "certainty",
        "partial pooling",
        "regression to the mean",
    )
    chart = chart_cache.drawn(forest.chart, rows, shown, components.look(), better, words.axis_title(measure, better))
    components.picture(
        chart, [drill_sentences.effect_in_list(row, shown) for row in told], rows, "drills-compared", forest.KEY
    )
    st.markdown(words.OPEN_A_DRILL)
    in_order = forest.order(rows, better)
    ids = dict(zip(rows["name"], rows["drill_id"], strict=True))
    with st.container(horizontal=True):
        for name in in_order:
            components.go("drill", name, drill=ids[name])
    with st.expander(words.TABLE_IN_WORDS):
        components.told(
            [drill_sentences.effect_line(row, shown) for row in told],
            ("drill", "when", "verdict", "certainty", "why"),
            "drills",
        )
    st.caption(words.SMALL_PRINT["drills"])
    setup.show(read, metric, group)


if __name__ == "__main__":
    page()
