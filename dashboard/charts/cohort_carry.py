"""A cohort's carry by month or week, as measured and on standard air, each with its interval by student."""

from __future__ import annotations

import altair as alt
import polars as pl

from dashboard.shell.number_format import Shown
from dashboard.shell.theme import Chart, Look, finish
from dashboard.text import carry

KEY = "○  as measured: weather and balls are in it · ●  the same launches on standard air, by the flight model"
SIDE = {"measured": -7, "standard": 7}
"""Pixels by which the two stand beside each other."""


def prepared(frame: pl.DataFrame, shown: Shown, period: str) -> pl.DataFrame:
    """Return one row a period and line, in display units."""
    parts, stretch = [], pl.col("starts_on").dt.strftime("%b %Y" if period == "month" else "%-d %b %y")
    for line, column in (("measured", "carry"), ("standard", "standard_carry")):
        numbers = (
            (pl.col(f"{column}{end}") / shown.per).alias(name)
            for name, end in (("at", ""), ("low", "_low"), ("high", "_high"))
        )
        parts.append(frame.select("starts_on", "students", *numbers, line=pl.lit(line), stretch=stretch))
    return pl.concat(parts)


def chart(frame: pl.DataFrame, shown: Shown, look: Look, period: str, width: int | None = None) -> Chart:
    """Draw the two lines.

    Parameters
    ----------
    frame
        Query cohort_carry.
    shown, look
        Units of carry, and colours.
    period
        month or week: how the axis is written.
    """
    rows = prepared(frame, shown, period)
    x = alt.X(
        "stretch:O",
        title=None if period == "month" else "week from",
        sort=rows["stretch"].unique(maintain_order=True).to_list(),
        axis=alt.Axis(labelAngle=0, labelOverlap=True),
    )
    y = alt.Y("at:Q", title=shown.axis("carry"), scale=alt.Scale(zero=False, padding=14))
    colours = {"measured": look.before, "standard": look.after}
    layers = []
    for line, colour in colours.items():
        base = alt.Chart(rows.filter(pl.col("line") == line)).encode(x=x)
        aside, dash = SIDE[line], [6, 4] if line == "measured" else [1, 0]
        filling = {"filled": line == "standard", "fill": colour if line == "standard" else look.paper}
        tips = [alt.Tooltip("at:Q", title=carry.LINES[line], format=".1f"), alt.Tooltip("students:Q")]
        way = base.mark_line(xOffset=aside, color=colour, strokeWidth=2, strokeDash=dash)
        ends_of = base.mark_rule(xOffset=aside, color=colour, strokeWidth=3, opacity=0.7)
        dots = base.mark_point(xOffset=aside, size=110, opacity=1, stroke=colour, strokeWidth=2, **filling)
        layers += [
            way.encode(y=y),
            ends_of.encode(y=alt.Y("low:Q"), y2=alt.Y2("high:Q")),
            dots.encode(y=y, tooltip=tips),
        ]
    ends = rows.filter(pl.col("starts_on") == rows["starts_on"].max())
    higher = ends.sort("at")["line"][-1]
    for line in colours:
        label = alt.Chart(ends.filter(pl.col("line") == line)).mark_text(
            align="left", dx=8, dy=-8 if line == higher else 8, color=look.ink
        )
        layers.append(label.encode(x=alt.XValue("width"), y=y, text=alt.TextValue(carry.LINES[line])))
    described = (
        f"Mean carry of a cohort over {frame.height} stretches, as measured and on standard air, each with its 95% "
        "interval by student."
    )
    return finish(layers, look, described, height=300, width=width)
