"""Bays by night: shots that arrived, with a word and a pattern where something did not."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from dashboard.shell.theme import Chart, Look, finish

ROW = 30
KEY = "Shots that arrived; dashed edge: silent · full edge: refused · dotted edge: late · –: no lessons"
STATES = ("reported", "late", "silent", "refused", "no lessons")
DASHES = {"late": [2, 2], "silent": [6, 4], "refused": [1, 0]}


def prepared(frame: pl.DataFrame) -> pl.DataFrame:
    """Return each cell's state (late apart) and its word."""
    state = pl.when(pl.col("late") & (pl.col("state") == "reported")).then(pl.lit("late")).otherwise(pl.col("state"))
    return frame.with_columns(state.alias("look"), pl.col("night").dt.strftime("%d %b").alias("day")).with_columns(
        pl.when(pl.col("look") == "reported")
        .then(pl.col("shots").cast(pl.String))
        .when(pl.col("look") == "late")
        .then(pl.format("{} late", pl.col("shots")))
        .when(pl.col("look") == "no lessons")
        .then(pl.lit("–"))
        .otherwise(pl.col("look"))
        .alias("word"),
        pl.col("reason").fill_null("–"),
    )


def chart(frame: pl.DataFrame, look: Look, width: int | None = None) -> Chart:
    """Draw the grid.

    Parameters
    ----------
    frame
        Query bay_nights.
    look
        Colours.
    """
    rows = prepared(frame)
    days = rows.sort("night")["day"].unique(maintain_order=True).to_list()
    bays = rows.sort("bay_id")["bay_id"].unique(maintain_order=True).to_list()
    x = alt.X(
        "day:O",
        sort=days,
        title="night",
        axis=alt.Axis(orient="top", labelAngle=0, ticks=False, domain=False, labelOverlap=True),
    )
    y = alt.Y("bay_id:O", sort=bays, title="bay", axis=alt.Axis(ticks=False, domain=False))
    states = list(STATES)
    fill = alt.Color(
        "look:N",
        legend=None,
        scale=alt.Scale(domain=states, range=[look.panel, look.panel, look.paper, look.paper, look.paper]),
    )
    base = alt.Chart(rows).encode(x=x, y=y)
    size: dict[str, Any] = {"width": alt.RelativeBandSize(0.92), "height": alt.RelativeBandSize(0.86)}
    # Vega-Lite takes no dash by row for rectangles: each kind of edge is a layer.
    edges = [
        alt.Chart(here)
        .mark_rect(
            fillOpacity=0, strokeWidth=2.5, strokeDash=dash, stroke=look.before if kind == "late" else look.warning,
            **size,
        )
        .encode(x=x, y=y)
        for kind, dash in DASHES.items()
        if (here := rows.filter(pl.col("look") == kind)).height
    ]  # fmt: skip
    cells = base.mark_rect(**size).encode(
        color=fill,
        tooltip=[
            alt.Tooltip("night:T"),
            alt.Tooltip("bay_id"),
            alt.Tooltip("state"),
            alt.Tooltip("shots"),
            alt.Tooltip("rejected"),
            alt.Tooltip("duplicates"),
            alt.Tooltip("unattributed"),
            alt.Tooltip("lessons"),
            alt.Tooltip("reason"),
        ],
    )
    text = base.mark_text(color=look.ink).encode(text=alt.Text("word:N"))
    described = (
        f"Shots by bay and night, {len(bays)} bays over {len(days)} nights; silent and refused nights are outlined."
    )
    return finish([cells, *edges, text], look, described, height=ROW * len(bays), width=width)
