"""Carry against attack angle at this student's club speed, each with its best loft, and where the student stands."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from dashboard.shown import Shown
from dashboard.theme import Chart, Look, finish


def chart(frame: pl.DataFrame, place: dict[str, Any], carry: Shown, look: Look, width: int | None = None) -> Chart:
    """Draw the line and the place.

    Parameters
    ----------
    frame
        Query carry_by_attack.
    place
        The row of query student_place.
    carry, look
        Units of carry, and colours.
    """
    rows = frame.with_columns(
        (pl.col("carry") / carry.per).alias("carry"),
        pl.format("loft {}°", pl.col("dynamic_loft").round(0).cast(pl.Int64)).alias("loft"),
    )
    x = alt.X("attack_angle:Q", title="attack angle (°): down − | + up", scale=alt.Scale(nice=False, padding=36))
    y = alt.Y(
        "carry:Q",
        title=carry.axis("carry by the model, best loft for each angle"),
        scale=alt.Scale(zero=False, padding=20),
    )
    line = (
        alt.Chart(rows)
        .mark_line(color=look.later, strokeWidth=3)
        .encode(x=x, y=y, tooltip=["attack_angle", alt.Tooltip("carry", format=".0f"), "loft"])
    )
    every = max(1, rows.height // 5)
    lofts = alt.Chart(rows.gather_every(every)).mark_text(dy=-14, color=look.quiet).encode(x=x, y=y, text="loft:N")
    here = pl.DataFrame({"attack_angle": [place["attack_angle"]], "carry": [(place["model_carry"] or 0) / carry.per]})
    dot = alt.Chart(here).mark_point(filled=True, size=150, color=look.after, opacity=1).encode(x=x, y=y)
    text = (
        alt.Chart(here)
        .mark_text(baseline="top", dy=14, color=look.ink)
        .encode(x=x, y=y, text=alt.value("this student"))
    )
    described = (
        "Carry by the flight model at this club speed for each attack angle with its best loft; the dot is the student."
    )
    return finish(alt.layer(line, lofts, dot, text), look, described, height=300, width=width)
