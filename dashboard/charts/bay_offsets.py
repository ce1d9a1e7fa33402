"""What each bay adds to a number, with its interval."""

from __future__ import annotations

import altair as alt
import polars as pl

from dashboard.shell.number_format import Shown
from dashboard.shell.theme import Chart, Look, beside, finish

ROW = 26


def chart(frame: pl.DataFrame, shown: Shown, look: Look, width: int | None = None) -> Chart:
    """Draw the offsets.

    Parameters
    ----------
    frame
        Query bay_offsets.
    shown, look
        Units and colours.
    """
    rows = frame.drop_nulls(["bay_offset", "ci_low", "ci_high"]).with_columns(
        *((pl.col(name) / shown.per).alias(name) for name in ("bay_offset", "ci_low", "ci_high")),
        pl.when("drifting").then(pl.lit("drifting")).otherwise(pl.lit("")).alias("word"),
    )
    matters = shown.matters_from / shown.per
    widest = rows.select(pl.max_horizontal(pl.col("ci_low").abs(), pl.col("ci_high").abs())).max().item()
    far = max(1.5 * matters, 1.08 * float(widest))
    scale = alt.Scale(domain=[-far, far], nice=False)
    y = alt.Y("bay_id:N", sort=rows["bay_id"].to_list(), title="bay", axis=alt.Axis(ticks=False, domain=False))
    colour = alt.Color(
        "drifting:N", legend=None, scale=alt.Scale(domain=[False, True], range=[look.after, look.warning])
    )
    band = (
        alt.Chart(pl.DataFrame({"low": [-matters], "high": [matters]}))
        .mark_rect(color=look.band)
        .encode(x=alt.X("low:Q", scale=scale), x2=alt.X2("high:Q"))
    )
    zero = alt.Chart(pl.DataFrame({"at": [0]})).mark_rule(color=look.ink).encode(x=alt.X("at:Q", scale=scale))
    base = alt.Chart(rows).encode(y=y)
    lines = base.mark_rule(strokeWidth=3).encode(x=alt.X("ci_low:Q", scale=scale), x2=alt.X2("ci_high:Q"), color=colour)
    dots = base.mark_point(filled=True, size=90, opacity=1).encode(
        x=alt.X("bay_offset:Q", scale=scale, title=shown.axis(f"added to {shown.label}, bay's own frame")),
        color=colour,
        tooltip=[
            alt.Tooltip("bay_id"),
            alt.Tooltip("bay_offset", format=".2f"),
            alt.Tooltip("overlap_students"),
            alt.Tooltip("comparable_set"),
        ],
    )
    text = beside(base, "word", look, 8)
    described = (
        f"What {rows.height} bays add to {shown.label}, with 95% intervals; taken off before anything is compared."
    )
    return finish([band, zero, lines, dots, text], look, described, height=ROW * rows.height, width=width)
