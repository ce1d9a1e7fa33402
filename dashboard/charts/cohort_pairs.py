"""A cohort before and after: each student a faint line, the mean a strong one with its interval."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from dashboard.shell.number_format import Shown
from dashboard.shell.theme import Chart, Look, finish

PLACES = {"before": 0.0, "after": 1.0}


def points(frame: pl.DataFrame, shown: Shown) -> pl.DataFrame:
    """Return one row a student and window, in display units; students seen once are kept out."""
    both = frame.drop_nulls(["before", "after"])
    long = both.unpivot(
        ["before", "after"], index=["student_id", "shown_as"], variable_name="window", value_name="value"
    )
    return long.with_columns(
        (pl.col("value") / shown.per).alias("value"),
        pl.col("window").replace_strict(PLACES, return_dtype=pl.Float64).alias("at"),
    )


def chart(
    frame: pl.DataFrame, mean: dict[str, Any], shown: Shown, look: Look, title: str, width: int | None = None
) -> Chart:
    """Draw the pairs.

    Parameters
    ----------
    frame
        Query cohort_students.
    mean
        The cohort's row of query cohort_change.
    shown, look
        Units and colours.
    title
        What the number is, for the axis.
    """
    rows = points(frame, shown)
    axis = alt.Axis(
        values=[0, 1], labelExpr="datum.value == 0 ? 'before' : 'after'", grid=False, ticks=False, domain=False
    )
    x = alt.X("at:Q", title=None, axis=axis, scale=alt.Scale(domain=[-0.25, 1.6], nice=False))
    y = alt.Y("value:Q", title=shown.axis(title), scale=alt.Scale(zero=False, padding=10))
    lines = (
        alt.Chart(rows)
        .mark_line(color=look.quiet, opacity=0.35, strokeWidth=1)
        .encode(x=x, y=y, detail=alt.Detail("student_id:N"))
    )
    shape = alt.Scale(domain=list(PLACES), range=[look.before, look.after])
    dots = (
        alt.Chart(rows)
        .mark_point(filled=False, size=45, opacity=0.7)
        .encode(
            x=x,
            y=y,
            color=alt.Color("window:N", scale=shape, legend=None),
            tooltip=[
                alt.Tooltip("shown_as", title="student"),
                alt.Tooltip("window"),
                alt.Tooltip("value", format=".1f"),
            ],
        )
    )
    per = shown.per
    anyway = mean["before"] + (mean["expected_change"] or 0)
    means = pl.DataFrame({"at": [0.0, 1.0], "value": [mean["before"] / per, mean["after"] / per]})
    ends = pl.DataFrame(
        {
            "at": [1.0],
            "low": [(mean["before"] + mean["ci_low"]) / per],
            "high": [(mean["before"] + mean["ci_high"]) / per],
        }
    )
    labels = pl.DataFrame(
        {
            "at": [1.0, 1.0],
            "value": [mean["after"] / per, anyway / per],
            "text": [f"mean {shown.value(mean['after'])}", f"expected anyway {shown.value(anyway)}"],
            "up": [mean["after"] >= anyway, mean["after"] < anyway],
        }
    ).head(1 if mean["expected_change"] is None else 2)
    strong = alt.Chart(means).mark_line(color=look.ink, strokeWidth=3).encode(x=x, y=y)
    heads = alt.Chart(means).mark_point(filled=True, size=150, color=look.ink, opacity=1).encode(x=x, y=y)
    bar = (
        alt.Chart(ends)
        .mark_rule(strokeWidth=5, color=look.after, opacity=0.8)
        .encode(x=x, y=alt.Y("low:Q"), y2=alt.Y2("high:Q"))
    )
    tick = (
        alt.Chart(labels.tail(-1))
        .mark_tick(orient="horizontal", thickness=3, size=30, color=look.expected)
        .encode(x=x, y=y)
    )
    texts = [
        alt.Chart(labels.filter(pl.col("up") == up))
        .mark_text(align="left", dx=20, dy=-9 if up else 9, color=look.ink)
        .encode(x=x, y=y, text=alt.Text("text:N"))
        for up in (True, False)
    ]
    described = (
        f"{title} of {rows.height // 2} students before and after, each a line, with the mean and its 95% interval."
    )
    return finish([lines, dots, strong, bar, tick, heads, *texts], look, described, height=380, width=width)
