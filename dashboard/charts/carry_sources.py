"""Where a change in carry came from: parts that follow each other and add up to the change."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from dashboard.shell.number_format import Shown
from dashboard.shell.theme import Chart, Look, beside, finish
from dashboard.text import words

ROW = 36


def steps(row: dict[str, Any], shown: Shown) -> pl.DataFrame:
    """Return one row a part with where its bar starts and ends, and the sum last, in display units."""
    rows, at = [], 0.0
    for part, name in words.CARRY_PARTS.items():
        size = (row[part] or 0.0) / shown.per
        rows.append(
            {"part": name, "start": at, "end": at + size, "text": shown.change(row[part] or 0.0), "kind": "part"}
        )
        at += size
    total = row["carry_change"] / shown.per
    rows.append(
        {"part": "all together", "start": 0.0, "end": total, "text": shown.change(row["carry_change"]), "kind": "sum"}
    )
    return pl.DataFrame(rows)


def chart(row: dict[str, Any], shown: Shown, look: Look, width: int | None = None) -> Chart:
    """Draw the parts.

    Parameters
    ----------
    row
        A row of query student_carry.
    shown, look
        Units of carry, and colours.
    """
    rows = steps(row, shown)
    far = (
        max(float(rows.select(pl.max_horizontal(pl.col("start").abs(), pl.col("end").abs())).max().item()), 1.0) * 1.15
    )
    scale = alt.Scale(domain=[-far, far], nice=False)
    y = alt.Y(
        "part:N", sort=rows["part"].to_list(), title=None, axis=alt.Axis(ticks=False, domain=False, labelPadding=10)
    )
    base = alt.Chart(rows).encode(y=y)
    colour = alt.Color("kind:N", legend=None, scale=alt.Scale(domain=["part", "sum"], range=[look.after, look.ink]))
    zero = alt.Chart(pl.DataFrame({"at": [0]})).mark_rule(color=look.ink).encode(x=alt.X("at:Q", scale=scale))
    bars = base.mark_bar(height=16).encode(
        x=alt.X("start:Q", scale=scale, title=shown.axis("change in carry")), x2=alt.X2("end:Q"), color=colour
    )
    text = beside(base, "text", look, 8)
    described = "Parts of the change in carry, each starting where the one above ends; the last bar is their sum."
    return finish([zero, bars, text], look, described, height=ROW * rows.height, width=width)
