"""What a finished trial found: each group less the other, as drawn with its interval, as done beside."""

from __future__ import annotations

import altair as alt
import polars as pl

from dashboard.shell.number_format import Shown
from dashboard.shell.theme import Chart, Look, beside, finish

ROW = 72


def chart(frame: pl.DataFrame, shown: Shown, look: Look, title: str, width: int | None = None) -> Chart:
    """Draw one row a group.

    Parameters
    ----------
    frame
        Rows of trial_estimate.RESULT that have an interval, with `name` (the group in words) and `label` (what stands
        at the right of its row as drawn).
    shown, look
        The number's units, and colours.
    title
        Axis title without its unit.
    """
    scaled = [(pl.col(name) / shown.per).alias(name) for name in ("effect", "ci_low", "ci_high")]
    rows = frame.with_columns(*scaled)
    drawn_rows, done_rows = (rows.filter(pl.col("analysis") == one) for one in ("as drawn", "as done"))
    matters = shown.matters_from / shown.per
    far = max(2 * matters, 1.1 * max(abs(float(v)) for n in ("ci_low", "ci_high") for v in drawn_rows[n]))
    scale = alt.Scale(domain=[-far, far], nice=False)
    names = drawn_rows["name"].to_list()
    y = alt.Y("name:N", sort=names, title=None, axis=alt.Axis(ticks=False, domain=False, labelPadding=10))
    band = (
        alt.Chart(pl.DataFrame({"low": [-matters], "high": [matters]}))
        .mark_rect(color=look.band)
        .encode(x=alt.X("low:Q", scale=scale), x2=alt.X2("high:Q"))
    )
    zero = alt.Chart(pl.DataFrame({"at": [0]})).mark_rule(color=look.ink, strokeWidth=1.5).encode(x=alt.X("at:Q"))
    base, done = (alt.Chart(one).encode(y=y) for one in (drawn_rows, done_rows))
    lines = base.mark_rule(strokeWidth=4, color=look.after, clip=True).encode(
        x=alt.X("ci_low:Q", scale=scale, title=shown.axis(title)), x2=alt.X2("ci_high:Q")
    )
    tooltip = [
        alt.Tooltip("name"),
        alt.Tooltip("analysis"),
        *(alt.Tooltip(column, format=".2f") for column in ("effect", "ci_low", "ci_high")),
        alt.Tooltip("students"),
        alt.Tooltip("reference_students"),
    ]
    dots = base.mark_point(filled=True, size=150, opacity=1, color=look.after, clip=True).encode(
        x=alt.X("effect:Q", scale=scale), tooltip=tooltip
    )
    thin = done.mark_rule(strokeWidth=1, color=look.before, clip=True, yOffset=16).encode(
        x=alt.X("ci_low:Q", scale=scale), x2=alt.X2("ci_high:Q")
    )
    hollow = done.mark_point(
        filled=False, size=100, strokeWidth=2, color=look.before, clip=True, yOffset=16
    ).encode(x=alt.X("effect:Q", scale=scale), tooltip=tooltip)  # fmt: skip
    text = beside(base, "label", look, 12)
    views = [band, zero, thin, hollow, lines, dots, text]
    described = f"Differences of {len(names)} drawn groups in {shown.label} with intervals; a band at what matters."
    return finish(views, look, described, height=ROW * max(len(names), 1), width=width)
