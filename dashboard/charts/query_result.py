"""A reader's own result, drawn plainly: one column against another."""

from __future__ import annotations

import altair as alt
import polars as pl

from dashboard.shell.theme import Chart, Look, finish

ROW = 26
BARS = 40


def numbers(frame: pl.DataFrame) -> list[str]:
    """Return the columns that can stand along an axis of values."""
    return [name for name, kind in frame.schema.items() if kind.is_numeric()]


def chart(frame: pl.DataFrame, across: str, value: str, look: Look, width: int | None = None) -> Chart:
    """Draw bars for words, a line for dates, points for numbers.

    Parameters
    ----------
    frame
        Any frame.
    across, value
        Two of its columns; `value` holds numbers.
    look
        Colours.
    """
    rows = frame.select(pl.col(across).alias("across"), pl.col(value).cast(pl.Float64).alias("value"))
    kind = frame.schema[across]
    described = f"{value} against {across}, {rows.height} rows of the reader's own query."
    if kind.is_temporal() or kind.is_numeric():
        x = alt.X("across:T" if kind.is_temporal() else "across:Q", title=across, scale=alt.Scale(zero=False))
        y = alt.Y("value:Q", title=value, scale=alt.Scale(zero=False))
        base = alt.Chart(rows).encode(x=x, y=y)
        points = base.mark_point(filled=True, size=60, opacity=0.8, color=look.after)
        line = base.mark_line(color=look.after, strokeWidth=1)
        return finish([line, points] if kind.is_temporal() else [points], look, described, height=320, width=width)
    shown = rows.with_columns(pl.col("across").cast(pl.String)).head(BARS)
    y = alt.Y("across:N", title=across, sort=None)
    bars = alt.Chart(shown).mark_bar(color=look.after).encode(x=alt.X("value:Q", title=value), y=y)
    return finish([bars], look, described, height=ROW * max(1, shown["across"].n_unique()), width=width)
