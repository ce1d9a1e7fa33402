"""The shots of a session as dots in time, with the stretches of drills shaded and named."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import altair as alt
import polars as pl

from dashboard.shell.number_format import Shown
from dashboard.shell.theme import Chart, Look, finish

KEY = (
    "●  counts in the student's blocks · ◇  hit while a drill ran · +  mishit or set aside · shaded: a drill, from aid "
    "down to aid up"
)
KINDS = ("counts", "during a drill", "left out")


def kinds(frame: pl.DataFrame) -> pl.Expr:
    """Return what each shot is: counts, during a drill, left out."""
    return (
        pl.when(pl.col("phase") == "drill")
        .then(pl.lit(KINDS[1]))
        .when(pl.col("usable"))
        .then(pl.lit(KINDS[0]))
        .otherwise(pl.lit(KINDS[2]))
    )


def chart(
    frame: pl.DataFrame,
    drills: pl.DataFrame,
    ends_at: datetime,
    shown: Shown,
    look: Look,
    title: str,
    width: int | None = None,
) -> Chart:
    """Draw the shots.

    Parameters
    ----------
    frame
        Query session_shots, at least one row with the number.
    drills
        Query night_episodes of the session; a drill without an end is shaded to the session's.
    ends_at
        The session's last shot.
    shown, look
        The number's units, and colours.
    title
        What the number is, for the axis.
    """
    rows = frame.filter(pl.col(shown.metric).is_not_null()).with_columns(
        kinds(frame).alias("kind"), (pl.col(shown.metric) / shown.per).alias("value")
    )
    low, high = rows["value"].min(), rows["value"].max()
    x = alt.X(
        "struck_at_local:T",
        title="time of day",
        axis=alt.Axis(format="%H:%M", labelOverlap=True, tickCount=6),
        scale=alt.Scale(padding=12),
    )
    y = alt.Y("value:Q", title=shown.axis(title), scale=alt.Scale(zero=False, padding=26))
    layers: list[Any] = []
    if drills.height:
        spans = drills.with_columns(
            pl.col("ends_at").fill_null(ends_at), pl.lit(low).alias("low"), pl.lit(high).alias("high")
        )
        base = alt.Chart(spans)
        layers.append(
            base.mark_rect(color=look.band).encode(
                x=alt.X("begins_at:T"), x2=alt.X2("ends_at:T"), tooltip=[alt.Tooltip("name", title="drill")]
            )
        )
        layers.append(
            base.mark_text(align="left", baseline="top", dx=4, dy=4).encode(
                x=alt.X("begins_at:T"), y=alt.YValue(0), text=alt.Text("name")
            )
        )
    colours = alt.Scale(domain=list(KINDS), range=[look.after, look.drill, look.expected])
    shapes = alt.Scale(domain=list(KINDS), range=["circle", "diamond", "cross"])
    of_free = {"test": f"datum.kind === '{KINDS[0]}'", "value": look.after}
    fills = alt.FillValue("transparent", condition=of_free)
    layers.append(
        alt.Chart(rows.with_columns((pl.col("seconds_before") // 60).alias("minutes_before")))
        .mark_point(size=70, strokeWidth=2, opacity=1)
        .encode(
            x=x,
            y=y,
            stroke=alt.Stroke("kind:N", scale=colours, legend=None),
            shape=alt.Shape("kind:N", scale=shapes, legend=None),
            fill=fills,
            tooltip=[
                alt.Tooltip("ball", title="ball"),
                alt.Tooltip("struck_at_local:T", title="struck at", format="%H:%M:%S"),
                alt.Tooltip("value", title=title, format=f".{shown.decimals}f"),
                alt.Tooltip("club"),
                alt.Tooltip("kind"),
            ],
        )
    )
    described = (
        f"{title} of {rows.height} balls in the order they were hit, {drills.height} drills shaded: "
        f"{', '.join(drills['name'].drop_nulls()) or 'none'}."
    )
    return finish(layers, look, described, height=260, width=width)
