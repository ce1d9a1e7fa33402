"""Coach: which drill moves this number, and does it last?"""

from __future__ import annotations

import streamlit as st

from dashboard import drawing, page_parts, sentences, setup_part, words
from dashboard.charts import forest
from dashboard.goals import drill_rows
from dashboard.reading import current


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
    rows, measure, better = drill_rows(read, group, metric)
    others = page_parts.switch(words.OTHER_AIMS, "others")
    rows = rows if others else rows.filter("is_aim")
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
        "regression to the mean",
    )
    chart = drawing.drawn(forest.chart, rows, shown, page_parts.look(), better, words.axis_title(measure, better))
    page_parts.picture(
        chart, [sentences.effect_in_list(row, shown) for row in told], rows, "drills-compared", forest.KEY
    )
    st.markdown(words.OPEN_A_DRILL)
    in_order = forest.order(rows, better)
    ids = dict(zip(rows["name"], rows["drill_id"], strict=True))
    with st.container(horizontal=True):
        for name in in_order:
            page_parts.go("drill", name, drill=ids[name])
    with st.expander(words.TABLE_IN_WORDS):
        page_parts.told(
            [sentences.effect_line(row, shown) for row in told],
            ("drill", "when", "verdict", "certainty", "why"),
            "drills",
        )
    st.caption(words.SMALL_PRINT["drills"])
    setup_part.show(read, metric, group)


if __name__ == "__main__":
    page()
