"""One bay's offset by week, with its interval; weeks after a drift signal are marked."""

from __future__ import annotations

import altair as alt
import polars as pl

from dashboard.shell.number_format import Shown
from dashboard.shell.theme import Chart, Look, finish, ticks


def chart(frame: pl.DataFrame, shown: Shown, look: Look, width: int | None = None) -> Chart:
    """Draw the weeks.

    Parameters
    ----------
    frame
        Query bay_weeks.
    shown, look
        Units and colours.
    """
    rows = frame.with_columns(
        *((pl.col(name) / shown.per).alias(name) for name in ("weekly_offset", "offset_low", "offset_high")),
        pl.when("drifting").then(pl.lit("drift signalled")).otherwise(pl.lit("steady")).alias("word"),
    )
    words = ["steady", "drift signalled"]
    colour = alt.Color("word:N", legend=None, scale=alt.Scale(domain=words, range=[look.after, look.warning]))
    shape = alt.Shape("word:N", legend=None, scale=alt.Scale(domain=words, range=["circle", "triangle-up"]))
    axis = alt.Axis(format="%d %b", labelOverlap=True, values=ticks(rows["week"].to_list()))
    x = alt.X("week:T", title="week", axis=axis, scale=alt.Scale(padding=20))
    y = alt.Y("weekly_offset:Q", title=shown.axis(f"added to {shown.label}"))
    zero = alt.Chart(pl.DataFrame({"at": [0]})).mark_rule(color=look.ink).encode(y=alt.Y("at:Q"))
    base = alt.Chart(rows).encode(x=x)
    lines = base.mark_rule(strokeWidth=3, opacity=0.7).encode(
        y=alt.Y("offset_low:Q"), y2=alt.Y2("offset_high:Q"), color=colour
    )
    dots = base.mark_point(filled=True, size=110, opacity=1).encode(
        y=y,
        color=colour,
        shape=shape,
        tooltip=[alt.Tooltip("week:T"), alt.Tooltip("weekly_offset", format=".2f"), alt.Tooltip("word")],
    )
    first = rows.filter("drifting").head(1)
    text = (
        alt.Chart(first)
        .mark_text(align="right", dx=-10, dy=-10, color=look.ink)
        .encode(x=x, y=alt.Y("weekly_offset:Q"), text=alt.Text("word:N"))
    )
    described = f"Weekly offset of the bay over {rows.height} weeks with 95% intervals."
    return finish([zero, lines, dots, text], look, described, height=260, width=width)
