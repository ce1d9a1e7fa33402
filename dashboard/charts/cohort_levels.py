"""One goal number by cohort: before, after with its interval, and where practice alone would have left it."""

from __future__ import annotations

import altair as alt
import polars as pl

from dashboard.shell.number_format import Shown
from dashboard.shell.theme import Chart, Look, beside, finish, label_limit
from dashboard.text import words

ROW = 44
KEY = (
    "○  before · ●  after, with the 95% interval of the change · |  expected anyway · at the right: the change, as it "
    "looks, and its interval"
)


def prepared(frame: pl.DataFrame, shown: Shown) -> pl.DataFrame:
    """Return levels in display units, and the change in words."""
    rows = frame.filter(pl.col("ci_low").is_not_null())
    reads = [
        f"{shown.change(row['change'])} ({shown.interval(row['ci_low'], row['ci_high'])})"
        for row in rows.iter_rows(named=True)
    ]
    return rows.with_columns(
        ((pl.col("before") + pl.col("ci_low")) / shown.per).alias("after_low"),
        ((pl.col("before") + pl.col("ci_high")) / shown.per).alias("after_high"),
        ((pl.col("before") + pl.col("expected_change")) / shown.per).alias("anyway"),
        (pl.col("before") / shown.per).alias("before"),
        (pl.col("after") / shown.per).alias("after"),
        pl.Series("reads", reads, dtype=pl.String),
    )


def chart(
    frame: pl.DataFrame, shown: Shown, look: Look, title: str, better: str | None = None, width: int | None = None
) -> Chart:
    """Draw one row a cohort.

    Parameters
    ----------
    frame
        Rows of query cohort_change for one number and club group.
    shown, look
        Units and colours.
    title
        What the number is, for the alternative text.
    better
        "up", "down" or None: which way is better; a distance is always better to the left.
    """
    rows = prepared(frame, shown)
    distance = rows["measure"][0] == "distance"
    short = words.MEASURES["distance"] if distance else shown.label
    short += words.better_side("down" if distance else better)
    axis = alt.Axis(ticks=False, domain=False, labelPadding=8, labelLimit=label_limit(150))
    y = alt.Y("cohort:N", title=None, axis=axis)
    scale = alt.Scale(zero=False, nice=False, padding=12)
    base = alt.Chart(rows).encode(y=y)
    x = alt.X("after:Q", title=shown.axis(short), scale=scale)
    way = base.mark_rule(strokeWidth=1, color=look.quiet).encode(x=alt.X("before:Q", scale=scale), x2=alt.X2("after:Q"))
    line = base.mark_rule(strokeWidth=4, color=look.after, opacity=0.55).encode(
        x=alt.X("after_low:Q", scale=scale), x2=alt.X2("after_high:Q")
    )
    unit, form = f" ({shown.unit})" if shown.unit else "", f".{shown.decimals}f"
    levels = [alt.Tooltip(name, title=f"{name}{unit}", format=form) for name in ("before", "after")]
    tooltip = [alt.Tooltip("cohort"), *levels, alt.Tooltip("reads", title="change"), alt.Tooltip("students")]
    before = base.mark_point(filled=False, size=120, strokeWidth=2, color=look.before).encode(
        x=alt.X("before:Q", scale=scale), tooltip=tooltip
    )
    anyway = base.mark_tick(thickness=3, size=22, color=look.expected).encode(x=alt.X("anyway:Q", scale=scale))
    after = base.mark_point(filled=True, size=120, opacity=1, color=look.after).encode(x=x, tooltip=tooltip)
    text = beside(base, "reads", look, 8)
    views = [way, line, anyway, before, after, text]
    described = f"{title} of {rows.height} cohorts before and after, with the 95% interval of the change."
    return finish(views, look, described, height=ROW * rows.height, width=width)
