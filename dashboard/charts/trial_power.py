"""Power against students drawn, for the smallest change that matters and for twice as much."""

from __future__ import annotations

import altair as alt
import polars as pl

from dashboard.shell.theme import Chart, Look, finish

WANTED = 0.80
NAMES = ("smallest change that matters", "twice as much")


def chart(frame: pl.DataFrame, look: Look, planned: int | None, here: int | None, width: int | None = None) -> Chart:
    """Draw the curves.

    Parameters
    ----------
    frame
        One row a number of students and size of change: `students`, `power`, `size` (0 the smallest that matters, 1
        twice as much), `reads`.
    look
        Colours.
    planned, here
        Students of the plan, and students of this academy who would take part; marked where they are known.
    """
    rows = frame.with_columns(pl.col("size").replace_strict(dict(enumerate(NAMES))).alias("change"))
    most = max(float(rows["students"].max()), float(planned or 0), float(here or 0))
    x_scale = alt.Scale(domain=[0, most * 1.02], nice=False)
    x = alt.X("students:Q", title="students drawn, all groups together", scale=x_scale, axis=alt.Axis(format=".0f"))
    y = alt.Y(
        "power:Q", title="chance to find it", scale=alt.Scale(domain=[0, 1]), axis=alt.Axis(format="%", tickCount=5)
    )
    wanted = alt.Chart(pl.DataFrame({"power": [WANTED]})).mark_rule(color=look.quiet, strokeDash=[2, 4]).encode(y=y)
    base = alt.Chart(rows).encode(x=x, y=y, tooltip=[alt.Tooltip("reads", title="reads")])
    dash = alt.StrokeDash(
        "change:N", legend=None, scale=alt.Scale(domain=list(NAMES), range=[[1, 0], [8, 5]])
    )  # fmt: skip
    lines = base.mark_line(color=look.after, strokeWidth=3).encode(strokeDash=dash)
    dots = base.mark_point(color=look.after, filled=True, size=50, opacity=1)
    layers: list[alt.Chart] = [wanted, *marks(planned, here, look, x_scale), lines, dots]
    described = (
        "Chance that the trial finds the smallest change that matters, and twice as much, against the number of "
        "students drawn; a line across at four times in five."
    )
    return finish(layers, look, described, height=300, width=width)


def marks(planned: int | None, here: int | None, look: Look, scale: alt.Scale) -> list[alt.Chart]:
    """Return upright lines with their words: the plan's students, and those that this academy has."""
    drawn: list[alt.Chart] = []
    for number, text, colour, place in (
        (planned, "needed", look.later, 250), (here, "would take part here", look.warning, 275)
    ):  # fmt: skip
        if number is None:
            continue
        base = alt.Chart(pl.DataFrame({"students": [number]})).encode(x=alt.X("students:Q", scale=scale))
        drawn.append(base.mark_rule(color=colour, strokeWidth=2))
        near_end = number > 0.7 * float(scale.to_dict()["domain"][1])
        drawn.append(
            base.mark_text(align="right" if near_end else "left", dx=-6 if near_end else 6, color=look.ink).encode(
                y=alt.YValue(place), text=alt.TextValue(f"{number} {text}")
            )
        )
    return drawn
