"""A student's next four weeks: two or three drills with what to expect, cautions first, holds obeyed, no promise."""

from __future__ import annotations

import polars as pl
import streamlit as st

from dashboard.notebook import holds as notebook_holds
from dashboard.shell import components
from dashboard.shell.page_context import Reading
from dashboard.text import notebook, trial_plan_sentences
from dashboard.text import trials as words
from dashboard.text.drill_sentences import Row
from warehouse.domain.drill_effect import four_week_plan

FORECAST = (
    "drill_id", "metric", "measure", "club_group", "expected_effect", "interval_low", "interval_high",
)  # fmt: skip


def planned(read: Reading, student_id: str, goal_metric: str | None, holds: pl.DataFrame) -> pl.DataFrame:
    """Return the drills of four weeks (trial_weeks.PLAN), those that are held left out."""
    forecast = read.ask("student_forecast", student_id=student_id).select(FORECAST)
    held = (frozenset(holds[name].drop_nulls().to_list()) for name in ("drill_id", "aim_metric"))
    return four_week_plan.four_weeks(forecast, read.ask("drill_aims"), *held, goal_metric)


def show(read: Reading, student_id: str, goal_metric: str | None) -> None:
    """Say the four weeks, each drill with its caution first."""
    components.section(words.SECTIONS["weeks"])
    holds = notebook_holds.readable(read.home, student_id)
    if holds is None:
        st.error(notebook.HOLDS_UNREADABLE)
        return
    rows = list(planned(read, student_id, goal_metric, holds).iter_rows(named=True))
    drills = {row["drill_id"]: row for row in read.ask("drills").iter_rows(named=True)}
    names = {drill_id: row["name"] for drill_id, row in drills.items()}
    components.answer(
        trial_plan_sentences.week_answer(rows, names), "prediction interval", "beyond free practice", "partial pooling"
    )  # fmt: skip
    for row in rows:
        drill = drills[row["drill_id"]]
        components.caution(f"{drill['name']}: {notebook.caution(drill['caution'])}", f"week-{row['drill_id']}")
        st.markdown(told(read, row, drill["name"]))
    st.caption(words.WEEKS_SMALL_PRINT)


def told(read: Reading, row: Row, name: str) -> str:
    """Say one line of the plan."""
    shown = read.shown(row["metric"], row["club_group"], row["measure"])
    better = "nearer the target" if row["measure"] == "distance" else "tighter" if row["measure"] == "spread" else ""
    if not better:
        better = "up" if (row["gain"] > 0) == (row["expected_effect"] > 0) else "down"
    return trial_plan_sentences.week_plan(row, name, shown, better)
