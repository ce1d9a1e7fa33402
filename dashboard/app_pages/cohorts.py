"""Director, analyst: how did this group change between these weeks?"""

from __future__ import annotations

import polars as pl
import streamlit as st

from dashboard.charts import cohort_pairs
from dashboard.sections import carry
from dashboard.shell import chart_cache, components
from dashboard.shell.page_context import Reading, current
from dashboard.text import people_sentences, term_sentences, words
from dashboard.text.drill_sentences import first_up, subject
from dashboard.text.people_sentences import Row


def names_of(read: Reading, rows: pl.DataFrame) -> dict[str, str]:
    """Return the numbers to choose from, the goal numbers first."""
    goals = read.ask("goal_metrics").select("club_group", "metric")
    every = pl.concat([goals, rows.select("club_group", "metric")]).unique(maintain_order=True)
    known = every.join(
        rows.select("club_group", "metric").unique(), on=["club_group", "metric"], how="semi", maintain_order="left"
    )
    return {f"{group}.{metric}": read.number(metric, group) for group, metric in known.iter_rows()}


def choices(read: Reading, window: str) -> Row | None:
    """Let the reader choose cohort and number; return the row, or None where there is none."""
    rows = read.ask("cohort_change", window_pair=window)
    if rows.is_empty():
        return None
    left, right = st.columns(2)
    with left:
        names = {row["cohort"]: term_sentences.cohort(row) for row in rows.unique("cohort").sort(
            ~pl.col("present"), "cohort").iter_rows(named=True)}  # fmt: skip
        cohort = components.choose(words.LABELS["cohort"], names, "cohort")
    own = rows.filter(pl.col("cohort") == cohort)
    with right:
        group, metric = components.choose_number(words.LABELS["number"], names_of(read, own))
    return own.row(by_predicate=(pl.col("club_group") == group) & (pl.col("metric") == metric), named=True)


def draw(read: Reading, row: Row) -> None:
    """Answer, picture, and who is missing."""
    shown = read.shown(row["metric"], row["club_group"])
    components.answer(
        people_sentences.cohort_change(row, shown),
        "interval",
        "expected anyway",
        "beyond own noise",
        "distance",
        "spread",
    )
    st.markdown(people_sentences.spread_change(row, shown))
    keys = {key: row[key] for key in ("cohort", "window_pair", "club_group", "metric")}
    students = read.ask("cohort_students", **keys)
    if row["ci_low"] is None or students.drop_nulls(["before", "after"]).is_empty():
        st.markdown(words.EMPTY["cohort_change"])
        return
    title = first_up(subject(shown, row["club_group"], row["measure"]))
    lines = [people_sentences.pair(student, shown) for student in students.iter_rows(named=True)]
    components.picture(
        chart_cache.drawn(cohort_pairs.chart, students, row, shown, components.look(), title),
        lines,
        students,
        "cohort-students",
    )
    components.section(words.SECTIONS["attrition"])
    st.markdown(people_sentences.attrition(row))
    gone = students.filter(pl.col("after").is_null())
    if gone.height:
        components.listing(
            gone,
            {"shown_as": ("student", "text"), "before": ("before", shown), "last_seen": ("last seen", "date")},
            "gone",
        )


def every_number(read: Reading, cohort: str, window: str) -> None:
    """List all numbers of the cohort, in words, goals and all."""
    components.section(words.SECTIONS["all_numbers"])
    rows = read.ask("cohort_change", window_pair=window).filter(pl.col("cohort") == cohort)
    told = [
        people_sentences.cohort_line(row, read.shown(row["metric"], row["club_group"]))
        for row in rows.iter_rows(named=True)
    ]
    components.told(told, ("number",), "cohort-numbers")
    components.behind(rows, "cohort-change")


def page() -> None:
    """Show a cohort before and after."""
    read = current()
    components.question("cohorts")
    window = components.choose(words.LABELS["window"], words.WINDOWS, "window")
    row = choices(read, window)
    if row is None:
        st.markdown(words.EMPTY["cohort_change"])
        return
    said = term_sentences.term(read.ask("terms").to_dicts()) if window != "recent" else ""
    st.caption(f"{said} {term_sentences.weeks(row)}".strip())
    draw(read, row)
    carry.season(read, row["cohort"], row["club_group"])
    carry.sources(read, "cohort", row["cohort"], row["cohort"])
    every_number(read, row["cohort"], window)
    st.caption(words.DIRECTION_NUMBERS)


if __name__ == "__main__":
    page()
