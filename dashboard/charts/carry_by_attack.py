"""Carry against attack angle at this student's club speed, each with its best loft, and where the student stands."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from dashboard.shell.number_format import Shown
from dashboard.shell.theme import Chart, Look, finish

KEY = (
    "Line: best carry for each attack angle at this student's club speed, on standard air · dot: what the student's "
    "launches carry there · band: how published flight models differ"
)


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
        *((pl.col(name) / carry.per).alias(name) for name in ("carry", "carry_low", "carry_high")),
        pl.format("loft {}°", pl.col("dynamic_loft").round(0).cast(pl.Int64)).alias("loft"),
    )
    x = alt.X("attack_angle:Q", title="attack angle (°): down − | + up", scale=alt.Scale(nice=False, padding=36))
    y = alt.Y(
        "carry:Q",
        title=carry.axis("carry by the model, best loft for each angle"),
        scale=alt.Scale(zero=False, padding=40),
    )
    band = alt.Chart(rows).mark_area(color=look.band).encode(x=x, y=alt.Y("carry_low:Q"), y2=alt.Y2("carry_high:Q"))
    line = (
        alt.Chart(rows)
        .mark_line(color=look.later, strokeWidth=3)
        .encode(
            x=x,
            y=y,
            tooltip=[
                alt.Tooltip("attack_angle", format=".1f"),
                alt.Tooltip("carry", format=".0f"),
                alt.Tooltip("loft"),
            ],
        )
    )
    here = pl.DataFrame({"attack_angle": [place["attack_angle"]], "carry": [place["standard_carry"] / carry.per]})
    dot = alt.Chart(here).mark_point(filled=True, size=150, color=look.after, opacity=1).encode(x=x, y=y)
    text = (
        alt.Chart(here)
        .mark_text(baseline="top", dy=14, color=look.ink)
        .encode(x=x, y=y, text=alt.TextValue("this student"))
    )
    described = (
        "Carry by the flight model at this club speed for each attack angle with its best loft; the dot is the student."
    )
    return finish([band, line, dot, text], look, described, height=300, width=width)
