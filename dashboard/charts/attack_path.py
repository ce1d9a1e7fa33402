"""Attack angle against club path: one ellipse for the first sessions, one for the latest."""

from __future__ import annotations

import math
from typing import Any

import altair as alt
import numpy as np
import polars as pl

from dashboard.shell.theme import Chart, Look, finish

TWO_THIRDS = math.sqrt(-2 * math.log(1 / 3))
"""Radius, in standard deviations, that holds two thirds of a bivariate normal: P(r) = 1 - exp(-r^2 / 2)."""


def ellipse(row: dict[str, Any], corners: int = 72) -> pl.DataFrame:
    """Return the outline that holds about two thirds of the shots, in degrees."""
    covariance = np.array([[row["path_variance"], row["covariance"]], [row["covariance"], row["attack_variance"]]])
    size, axes = np.linalg.eigh(covariance)
    around = np.linspace(0, 2 * np.pi, corners)
    outline = axes @ (np.sqrt(np.maximum(size, 0))[:, None] * TWO_THIRDS * np.vstack([np.cos(around), np.sin(around)]))
    return pl.DataFrame(
        {
            "path": outline[0] + row["path_mean"],
            "attack": outline[1] + row["attack_mean"],
            "step": np.arange(corners),
            "stretch": [row["stretch"]] * corners,
        }
    )


def chart(frame: pl.DataFrame, look: Look, width: int | None = None) -> Chart:
    """Draw the ellipses.

    Parameters
    ----------
    frame
        Query student_delivery: one row for before, one for after.
    look
        Colours.
    """
    outlines = pl.concat([ellipse(row) for row in frame.iter_rows(named=True)])
    stretches = ["before", "after"]
    colour = alt.Color("stretch:N", legend=None, scale=alt.Scale(domain=stretches, range=[look.before, look.after]))
    dash = alt.StrokeDash("stretch:N", legend=None, scale=alt.Scale(domain=stretches, range=[[6, 4], [1, 0]]))
    # The same reach both ways, so that a tilt of 45 degrees looks like one.
    middle = [(outlines[name].min() + outlines[name].max()) / 2 for name in ("path", "attack")]
    reach = 1.15 * max(outlines[name].max() - outlines[name].min() for name in ("path", "attack")) / 2
    scales = [alt.Scale(domain=[m - reach, m + reach], nice=False) for m in middle]
    x = alt.X("path:Q", title="club path (°): out to in − | + in to out", scale=scales[0])
    y = alt.Y("attack:Q", title="attack angle (°): down − | + up", scale=scales[1])
    lines = (
        alt.Chart(outlines)
        .mark_line(strokeWidth=3)
        .encode(x=x, y=y, order=alt.Order("step:Q"), color=colour, strokeDash=dash)
    )
    centres = frame.select(pl.col("path_mean").alias("path"), pl.col("attack_mean").alias("attack"), "stretch", "shots")
    dots = (
        alt.Chart(centres)
        .mark_point(filled=True, size=90, opacity=1)
        .encode(x=x, y=y, color=colour, tooltip=[alt.Tooltip("stretch"), alt.Tooltip("shots")])
    )
    texts = [
        alt.Chart(centres.filter(pl.col("stretch") == stretch))
        .mark_text(align="left", dx=9, dy=dy, color=look.ink)
        .encode(x=x, y=y, text=alt.Text("stretch:N"))
        for stretch, dy in (("before", -10), ("after", 12))
    ]
    rules = [
        alt.Chart(pl.DataFrame({"at": [0.0]}))
        .mark_rule(color=look.quiet, strokeDash=[2, 3], clip=True)
        .encode(**{axis: alt.X("at:Q", scale=scale) if axis == "x" else alt.Y("at:Q", scale=scale)})
        for axis, scale, m in (("x", scales[0], middle[0]), ("y", scales[1], middle[1]))
        if abs(m) < reach
    ]
    described = "Ellipses of attack angle against club path, first sessions (dashed) and latest sessions (solid)."
    return finish([*rules, lines, dots, *texts], look, described, height=320, width=width)
