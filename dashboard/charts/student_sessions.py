"""A student's number by session with its interval, the band of day-to-day noise, and the drills done at the foot."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from dashboard.shell.number_format import Shown, missing
from dashboard.shell.theme import Chart, Look, finish, ticks

BAND = "grey band: day-to-day noise around the start"
KEY = f"●  session's first balls, with 95% interval · ▲  at the foot: a drill was done · {BAND}"
FEW_SESSIONS = 6
"""Up to so many sessions each has its own date at the foot; more are counted in weeks or months."""


def band_of(goal: dict[str, Any], shown: Shown) -> pl.DataFrame:
    """Return the band around the first block within which a change is day-to-day noise; empty where it is not known."""
    if missing(goal["first_centre"]) or missing(goal["minimal_detectable_change"]):
        return pl.DataFrame()
    middle, noise = goal["first_centre"] / shown.per, goal["minimal_detectable_change"] / shown.per
    return pl.DataFrame({"low": [middle - noise], "high": [middle + noise], "middle": [middle]})


def dates(rows: pl.DataFrame) -> dict[str, Any]:
    """Return an axis's own marks where sessions are few: one a night; else one date would stand many times."""
    nights = rows.unique("night", keep="first", maintain_order=True)["begins_at"].to_list()
    if len(nights) > FEW_SESSIONS:
        return {}
    return {"values": ticks(nights)}


def chart(
    frame: pl.DataFrame,
    drills: pl.DataFrame,
    goal: dict[str, Any],
    shown: Shown,
    look: Look,
    title: str,
    target: float | None = None,
    width: int | None = None,
    height: int = 320,
) -> Chart:
    """Draw the sessions.

    Parameters
    ----------
    frame
        Query student_sessions.
    drills
        Query student_drills, for the marks at the foot.
    goal
        The number's row of query student_goals.
    shown, look
        Units and colours.
    title
        What the number is, for the axis.
    target
        The student's own target, canonical, if there is one.
    """
    rows = frame.with_columns(
        (pl.col(name) / shown.per).alias(name) for name in ("centre", "centre_low", "centre_high")
    )
    x = alt.X(
        "begins_at:T",
        title="session",
        axis=alt.Axis(format="%d %b", labelOverlap=True, tickCount=6, **dates(rows)),
        scale=alt.Scale(padding=24),
    )
    y = alt.Y("centre:Q", title=shown.axis(title), scale=alt.Scale(zero=False, padding=14))
    layers: list[Any] = []
    band = band_of(goal, shown)
    if band.height:
        layers.append(
            alt.Chart(band)
            .mark_rect(color=look.band)
            .encode(y=alt.Y("low:Q", title=shown.axis(title)), y2=alt.Y2("high:Q"))
        )
    if target is not None:
        aim = alt.Chart(pl.DataFrame({"at": [target / shown.per]}))
        layers.append(aim.mark_rule(color=look.later, strokeWidth=2, strokeDash=[8, 4]).encode(y=alt.Y("at:Q")))
        layers.append(
            aim.mark_text(align="right", baseline="bottom", dy=-3, color=look.ink).encode(
                x=alt.XValue("width"), y=alt.Y("at:Q"), text=alt.TextValue("own target")
            )
        )
    base = alt.Chart(rows).encode(x=x)
    layers.append(base.mark_line(color=look.after, strokeWidth=1, opacity=0.5).encode(y=y))
    layers.append(
        base.mark_rule(color=look.after, strokeWidth=3, opacity=0.7).encode(
            y=alt.Y("centre_low:Q"), y2=alt.Y2("centre_high:Q")
        )
    )
    layers.append(
        base.mark_point(filled=True, size=110, opacity=1, color=look.after).encode(
            y=y,
            tooltip=[
                alt.Tooltip("night:T", title="night"),
                alt.Tooltip("centre", format=".1f"),
                alt.Tooltip("shots"),
                alt.Tooltip("club"),
            ],
        )
    )
    if drills.height:
        marks = alt.Chart(drills).encode(x=alt.X("begins_at:T"))
        tips = [alt.Tooltip("night:T", title="night"), alt.Tooltip("name", title="drill")]
        layers.append(
            marks.mark_point(shape="triangle-up", size=110, filled=True, opacity=1, color=look.drill).encode(
                y=alt.YValue("height"), tooltip=tips
            )
        )
    described = f"{title} in {rows.height} sessions with 95% intervals; {drills.height} drills marked at the foot."
    return finish(layers, look, described, height=height, width=width)
