"""Changes of goal numbers around one zero, a row a cohort; better is always to the right, whatever the unit."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import altair as alt
import polars as pl

from dashboard.shell.number_format import Shown
from dashboard.shell.theme import Chart, Look, beside, finish, label_limit

ROW = 30
ROOM = 190
KEY = "●  change with its 95% interval · |  expected anyway · grey: smaller than matters"
Goal = tuple[str, str, Shown, pl.DataFrame]
"""A number's title, the way that is better (up, down, zero), how it is shown, and its cohorts' rows."""


def prepared(goals: Sequence[Goal]) -> pl.DataFrame:
    """Return a row a cohort, in steps of the smallest change that matters, and before each number a row with its name.

    Columns: place (unique, in order), what (the axis's label), head, steps, low, high, anyway, reads, students.
    """
    rows: list[dict[str, Any]] = []
    for title, better, shown, cohorts in goals:
        way = (1 if better == "up" else -1) / shown.matters_from
        rows.append({"what": title, "head": True})
        for row in cohorts.iter_rows(named=True):
            low, high = sorted((way * row["ci_low"], way * row["ci_high"]))
            rows.append({
                "what": row["cohort"], "head": False, "steps": way * row["change"], "low": low, "high": high,
                "anyway": None if row["expected_change"] is None else way * row["expected_change"],
                "reads": f"{shown.change(row['change'])} ({shown.interval(row['ci_low'], row['ci_high'])})",
                "students": row["students"],
            })  # fmt: skip
    schema = {
        "what": pl.String, "head": pl.Boolean, "steps": pl.Float64, "low": pl.Float64, "high": pl.Float64,
        "anyway": pl.Float64, "reads": pl.String, "students": pl.Int64,
    }  # fmt: skip
    frame = pl.DataFrame(rows, schema=schema).with_row_index("at")
    return frame.with_columns(pl.format("{}|{}", pl.col("at").cast(pl.String).str.zfill(3), "what").alias("place"))


def chart(rows: pl.DataFrame, look: Look, width: int | None = None) -> Chart:
    """Draw them; how far to the right is how many times the smallest change that matters.

    Parameters
    ----------
    rows
        What `prepared` returns.
    look
        Colours.
    """
    places, heads = rows["place"].to_list(), json.dumps(rows.filter("head")["place"].to_list())
    told = rows.filter(~pl.col("head"))
    far = 1.05 * max(1.5, *(float(told[name].abs().max() or 0) for name in ("low", "high", "anyway")))
    axis = alt.Axis(
        ticks=False, domain=False, labelPadding=8, labelLimit=label_limit(ROOM), labelExpr="slice(datum.label, 4)",
        labelFontWeight={"condition": {"test": f"indexof({heads}, datum.value) >= 0", "value": "bold"},
                         "value": "normal"},
    )  # fmt: skip
    y = alt.Y("place:N", sort=None, title=None, axis=axis, scale=alt.Scale(domain=places))
    scale = alt.Scale(domain=[-far, far], nice=False)
    x = alt.X(
        "steps:Q", scale=scale, title="← worse    in steps that matter    better →",
        axis=alt.Axis(grid=False, tickCount=5),
    )  # fmt: skip
    matters = pl.DataFrame({"low": [-1.0], "high": [1.0]})
    band = alt.Chart(matters).mark_rect(color=look.band).encode(x=alt.X("low:Q", scale=scale), x2=alt.X2("high:Q"))
    zero = alt.Chart(pl.DataFrame({"zero": [0.0]})).mark_rule(color=look.ink, strokeWidth=1.5).encode(
        x=alt.X("zero:Q", scale=scale)
    )  # fmt: skip
    base = alt.Chart(rows).encode(y=y)
    line = base.mark_rule(strokeWidth=3, color=look.after, opacity=0.6).encode(
        x=alt.X("low:Q", scale=scale), x2=alt.X2("high:Q")
    )
    tick = base.mark_tick(thickness=3, size=16, color=look.expected).encode(x=alt.X("anyway:Q", scale=scale))
    tooltip = [alt.Tooltip("what", title="cohort"), alt.Tooltip("reads", title="change"), alt.Tooltip("students")]
    dot = alt.Chart(told).mark_point(filled=True, size=90, opacity=1, color=look.after).encode(
        y=y, x=x, tooltip=tooltip
    )  # fmt: skip
    text = beside(alt.Chart(told).encode(y=y), "reads", look, 8)
    described = (
        f"Changes of {rows['head'].sum()} goal numbers by cohort around zero with 95% intervals; better is to the "
        f"right, in steps of the smallest change that matters."
    )
    views = [band, zero, line, tick, dot, text]
    return finish(views, look, described, height=ROW * rows.height, width=width)
