"""What a typical change of set-up went with: one row an observation, the change of one number with its interval."""

from __future__ import annotations

import altair as alt
import polars as pl

from dashboard.shell.number_format import Shown
from dashboard.shell.theme import Chart, Look, beside, finish, label_limit, no_difference
from dashboard.text import setup_sentences

ROW = 36


def prepared(frame: pl.DataFrame, shown: Shown) -> pl.DataFrame:
    """Return the change that went with a typical change of each observation, in display units, and in words."""
    rows = frame.filter(pl.col("slope_low").is_not_null() & (pl.col("finding") != "too few"))
    times = pl.col("typical_change") / shown.per
    reads = [
        f"{shown.change(row['slope'] * row['typical_change'])} "
        f"({shown.interval(row['slope_low'] * row['typical_change'], row['slope_high'] * row['typical_change'])})"
        for row in rows.iter_rows(named=True)
    ]
    labels = [
        f"{setup_sentences.observed(row)}, {row['typical_change']:.3g} {row['unit']} more"
        for row in rows.iter_rows(named=True)
    ]
    return rows.with_columns(
        (pl.col("slope") * times).alias("went"),
        (pl.col("slope_low") * times).alias("low"),
        (pl.col("slope_high") * times).alias("high"),
        pl.Series("reads", reads, dtype=pl.String),
        pl.Series("label", labels, dtype=pl.String),
    ).select("label", "reads", "went", "low", "high", "students", "pairs")


def chart(frame: pl.DataFrame, shown: Shown, look: Look, width: int | None = None) -> Chart:
    """Draw the associations.

    Parameters
    ----------
    frame
        Query setup_association, at least one row with an interval and enough pairs.
    shown, look
        Units and colours.
    """
    rows = prepared(frame, shown)
    matters = shown.matters_from / shown.per
    far = 1.1 * max(float(rows["high"].max()), -float(rows["low"].min()), 1.2 * matters)
    scale = alt.Scale(domain=[-far, far], nice=False)
    y = alt.Y("label:N", sort=rows["label"].to_list(), title=None,
              axis=alt.Axis(ticks=False, domain=False, labelPadding=10, labelLimit=label_limit(330)))  # fmt: skip
    band, zero = no_difference(matters, scale, look)
    base = alt.Chart(rows).encode(y=y)
    lines = base.mark_rule(strokeWidth=3, color=look.after).encode(x=alt.X("low:Q", scale=scale), x2=alt.X2("high:Q"))
    title = shown.axis(f"change of {shown.label} that went with it")
    dots = base.mark_point(filled=True, size=110, opacity=1, color=look.after).encode(
        x=alt.X("went:Q", scale=scale, title=title),
        tooltip=[alt.Tooltip("label"), alt.Tooltip("reads"), alt.Tooltip("students"), alt.Tooltip("pairs")],
    )
    text = beside(base, "reads", look, 12)
    described = f"Change of {shown.label} that went with changes of {rows.height} observations, an association."
    return finish([band, zero, lines, dots, text], look, described, height=ROW * rows.height, width=width)
