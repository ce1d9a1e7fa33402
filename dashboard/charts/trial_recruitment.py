"""Students entered in a trial so far, against the even pace of its plan."""

from __future__ import annotations

from datetime import timedelta

import altair as alt
import polars as pl

from dashboard.shell.theme import Chart, Look, finish, ticks


def prepared(frame: pl.DataFrame) -> pl.DataFrame:
    """Return the counts at the end of each week, with a first row at nothing."""
    first = frame.head(1).select(
        pl.col("week"), pl.lit(0, dtype=pl.Int64).alias("entered_so_far"), pl.lit(0.0).alias("planned_so_far")
    )
    ends = frame.select((pl.col("week") + timedelta(days=7)).alias("week"), "entered_so_far", "planned_so_far")
    return pl.concat([first, ends])


def chart(frame: pl.DataFrame, students: int, look: Look, width: int | None = None) -> Chart:
    """Draw both lines.

    Parameters
    ----------
    frame
        Rows of trial_follow.RECRUITMENT.
    students
        Students of the plan.
    look
        Colours.
    """
    rows = prepared(frame)
    axis = alt.Axis(format="%d %b", labelOverlap=True, values=ticks(rows["week"].to_list()))
    x = alt.X("week:T", title="week", axis=axis)
    top = max(students, int(rows["entered_so_far"].max() or 0))
    scale = alt.Scale(domain=[0, top * 1.08], nice=False)
    title = "students entered"
    whole = alt.Chart(pl.DataFrame({"at": [students], "text": [f"{students} planned"]}))
    goal = whole.mark_rule(color=look.quiet, strokeDash=[2, 4]).encode(y=alt.Y("at:Q", scale=scale, title=title))
    goal_text = whole.mark_text(align="left", baseline="bottom", dx=4, dy=-3, color=look.ink).encode(
        x=alt.XValue(0), y=alt.Y("at:Q", scale=scale), text=alt.Text("text:N")
    )
    base = alt.Chart(rows).encode(x=x)
    plan = base.mark_line(color=look.expected, strokeWidth=2, strokeDash=[8, 5]).encode(
        y=alt.Y("planned_so_far:Q", scale=scale, title=title)
    )
    line = base.mark_line(color=look.after, strokeWidth=3).encode(y=alt.Y("entered_so_far:Q", scale=scale, title=title))
    dots = base.mark_point(color=look.after, filled=True, size=70, opacity=1).encode(
        y=alt.Y("entered_so_far:Q", scale=scale),
        tooltip=[alt.Tooltip("week"), alt.Tooltip("entered_so_far"), alt.Tooltip("planned_so_far", format=".0f")],
    )
    described = f"Students entered by week as a line against an even pace to {students}, dashed."
    return finish([goal, goal_text, plan, line, dots], look, described, height=260, width=width)
