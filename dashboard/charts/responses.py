"""Students' responses to a drill, sorted, with the strip that luck alone would show beside it."""

from __future__ import annotations

import altair as alt
import polars as pl

from dashboard.shell.number_format import Shown
from dashboard.shell.theme import Chart, Look, finish
from dashboard.text import words

STRIPS = {"drill": 0.0, "free_practice": 1.12}


def prepared(frame: pl.DataFrame, shown: Shown) -> pl.DataFrame:
    """Return the places of both strips along one axis, in display units."""
    rank = pl.col("response").rank("ordinal", descending=True).over("strip")
    share = (rank - 0.5) / pl.len().over("strip")
    return frame.with_columns(
        (share + pl.col("strip").replace_strict(STRIPS, return_dtype=pl.Float64)).alias("along"),
        pl.col("shown_as").fill_null("luck alone"),
        *((pl.col(name) / shown.per).alias(name) for name in ("response", "response_low", "response_high")),
    )


def chart(frame: pl.DataFrame, shown: Shown, look: Look, better: str | None = None, width: int | None = None) -> Chart:
    """Draw the strips.

    Parameters
    ----------
    frame
        Query drill_responses.
    shown, look
        Units and colours.
    better
        "up", "down" or None: which way is better.
    """
    rows = prepared(frame, shown)
    title = shown.axis(f"response beyond free practice{words.BETTER_UP[better]}")
    matters = shown.matters_from / shown.per
    axis = alt.Axis(labels=False, ticks=False, domain=False, grid=False)
    x = alt.X(
        "along:Q", title="students, each strip sorted", axis=axis, scale=alt.Scale(domain=[-0.02, 2.14], nice=False)
    )
    y = alt.Y("response:Q", title=title)
    strips = list(STRIPS)
    colour = alt.Color("strip:N", legend=None, scale=alt.Scale(domain=strips, range=[look.after, look.expected]))
    shape = alt.Shape("strip:N", legend=None, scale=alt.Scale(domain=strips, range=["circle", "square"]))
    band = (
        alt.Chart(pl.DataFrame({"low": [-matters], "high": [matters]}))
        .mark_rect(color=look.band)
        .encode(y=alt.Y("low:Q", title=title), y2=alt.Y2("high:Q"))
    )
    zero = alt.Chart(pl.DataFrame({"at": [0]})).mark_rule(color=look.ink, strokeWidth=1.5).encode(y=alt.Y("at:Q"))
    base = alt.Chart(rows).encode(x=x)
    lines = base.mark_rule(strokeWidth=2, opacity=0.6).encode(
        y=alt.Y("response_low:Q"), y2=alt.Y2("response_high:Q"), color=colour
    )
    dots = base.mark_point(filled=True, size=70, opacity=1).encode(
        y=y,
        color=colour,
        shape=shape,
        tooltip=[
            alt.Tooltip("shown_as", title="student"),
            alt.Tooltip("response", format=f".{shown.change_decimals}f"),
            alt.Tooltip("episodes"),
        ],
    )
    heads = pl.DataFrame({"along": [0.5, 1.62], "text": ["students who did it", "luck alone"]})
    text = (
        alt.Chart(heads)
        .mark_text(color=look.ink, baseline="top", dy=2)
        .encode(x=x, y=alt.YValue(0), text=alt.Text("text:N"))
    )
    students = rows.filter(pl.col("strip") == "drill").height
    described = (
        f"Responses of {students} students, sorted, each with its 95% interval; beside it what luck alone would show."
    )
    return finish([band, zero, lines, dots, text], look, described, height=300, width=width)
