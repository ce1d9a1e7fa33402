"""What else a drill moved: every other number in units of the smallest change that matters, with its interval."""

from __future__ import annotations

import altair as alt
import polars as pl

from dashboard.shell.theme import Chart, Look, beside, finish, no_difference

ROW = 34


def chart(frame: pl.DataFrame, look: Look, width: int | None = None) -> Chart:
    """Draw the side effects.

    Parameters
    ----------
    frame
        One row a number: `label` (the number in words), `reads` (its change with unit and interval), `times`,
        `times_low`, `times_high` (change and interval over the smallest change that matters).
    look
        Colours.
    """
    far = max(2.2, float(min(frame["times_high"].max(), 8)), float(min(-frame["times_low"].min(), 8)))
    scale = alt.Scale(domain=[-far, far], nice=False)
    y = alt.Y(
        "label:N", sort=frame["label"].to_list(), title=None, axis=alt.Axis(ticks=False, domain=False, labelPadding=10)
    )
    band, zero = no_difference(1, scale, look)
    base = alt.Chart(frame).encode(y=y)
    lines = base.mark_rule(strokeWidth=3, color=look.after, clip=True).encode(
        x=alt.X("times_low:Q", scale=scale), x2=alt.X2("times_high:Q")
    )
    dots = base.mark_point(filled=True, size=110, opacity=1, color=look.after, clip=True).encode(
        x=alt.X("times:Q", scale=scale, title="change beyond free practice, in smallest changes that matter"),
        tooltip=[alt.Tooltip("label"), alt.Tooltip("reads")],
    )
    text = beside(base, "reads", look, 12)
    described = (
        f"Side effects of the drill on {frame.height} numbers with 95% intervals; the band is what does not matter."
    )
    return finish([band, zero, lines, dots, text], look, described, height=ROW * frame.height, width=width)
