"""Which trial is worth most: what a year's choices would gain by knowing, one bar a pair of drills."""

from __future__ import annotations

import altair as alt
import polars as pl

from dashboard.shell.theme import Chart, Look, beside, finish, label_limit

ROW = 40


def chart(frame: pl.DataFrame, look: Look, width: int | None = None) -> Chart:
    """Draw the bars.

    Parameters
    ----------
    frame
        One row a pair, the most worth first: `label` (the pair in words), `value`, `reads` (students and weeks).
    look
        Colours.
    """
    y = alt.Y(
        "label:N", sort=frame["label"].to_list(), title=None,
        axis=alt.Axis(ticks=False, domain=False, labelPadding=10, labelLimit=label_limit(330)),
    )  # fmt: skip
    base = alt.Chart(frame).encode(y=y)
    bars = base.mark_bar(color=look.after, height={"band": 0.55}).encode(
        x=alt.X("value:Q", title="expected gain over a year, smallest changes that matter"),
        tooltip=[alt.Tooltip("label"), alt.Tooltip("value", format=".1f"), alt.Tooltip("reads")],
    )
    text = beside(base, "reads", look, 12)
    described = f"{frame.height} possible trials by what a year's choices would gain by knowing, the most first."
    return finish([bars, text], look, described, height=ROW * frame.height, width=width)
