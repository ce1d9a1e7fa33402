"""Drills compared for one number: effect and interval the same session, the next beneath it, and as it looks."""

from __future__ import annotations

import altair as alt
import polars as pl

from dashboard.shell.number_format import Shown
from dashboard.shell.theme import Chart, Look, beside, finish, no_difference
from dashboard.text import words

ROW = 62
KEY = f"●  same session · ◆  next session · ○  {words.NAIVE} · grey band: smaller than matters"


def prepared(frame: pl.DataFrame, shown: Shown) -> pl.DataFrame:
    """Return the rows in display units with their label at the right."""
    scaled = [
        (pl.col(name) / shown.per).alias(name)
        for name in ("effect", "ci_low", "ci_high", "naive_change", "shrunk_effect")
    ]
    verdict = pl.col("verdict").fill_null("no better way is set")
    sure = (
        pl.when(pl.col("certainty").is_null() | pl.col("verdict").is_null())
        .then(pl.lit(""))
        .otherwise(pl.format(" ({})", pl.col("certainty")))
    )
    label = pl.format("{}: {}{}", pl.col("horizon").replace_strict(words.HORIZONS), verdict, sure)
    name = pl.when("is_aim").then(pl.col("name")).otherwise(pl.format("{} (other aim)", pl.col("name")))
    return frame.with_columns(*scaled, name.alias("name"), label.alias("label")).with_columns(
        pl.when(pl.col("effect").is_null() | pl.col("ci_low").is_null())
        .then(None)
        .otherwise(pl.col("naive_change"))
        .alias("naive_change")
    )


def order(frame: pl.DataFrame, better: str | None) -> list[str]:
    """Return the drills' names: by shrunk effect in the better way, then those that only have it as a side effect."""
    sign = -1 if better in ("down", "zero") else 1
    transfer = frame.filter(pl.col("horizon") == "transfer").with_columns(
        (pl.coalesce("shrunk_effect", "effect") * sign).alias("gain")
    )
    return transfer.sort("is_aim", "gain", "name", descending=[True, True, False], nulls_last=True)["name"].to_list()


def reach(frame: pl.DataFrame, shown: Shown) -> float:
    """Return how far the axis goes to either side of zero, in display units."""
    matters = shown.matters_from / shown.per
    values = pl.concat([frame[name].drop_nulls().abs() for name in ("effect", "naive_change", "ci_low", "ci_high")])
    middle = pl.concat([frame[name].drop_nulls().abs() for name in ("effect", "naive_change")])
    if not values.len():
        return 3 * matters
    return max(2 * matters, 1.08 * min(float(values.max()), 2.5 * float(middle.max())))


def chart(
    frame: pl.DataFrame, shown: Shown, look: Look, better: str | None = None, title: str = "", width: int | None = None
) -> Chart:
    """Draw the forest plot.

    Parameters
    ----------
    frame
        Query drill_comparison.
    shown, look
        Units and colours.
    better
        "up", "down" or "zero": which way the order goes.
    title
        Axis title without its unit.
    """
    rows = prepared(frame, shown)
    names = order(rows, better)
    far = reach(rows, shown)
    matters = shown.matters_from / shown.per
    horizons = list(words.HORIZONS)
    scale = alt.Scale(domain=[-far, far], nice=False)
    x = alt.X("effect:Q", title=shown.axis(title or "change beyond free practice"), scale=scale)
    y = alt.Y("name:N", sort=names, title=None, axis=alt.Axis(ticks=False, domain=False, labelPadding=10))
    offset = alt.YOffset(
        "horizon:N", sort=horizons, scale=alt.Scale(domain=horizons, paddingInner=0.2, paddingOuter=0.35)
    )
    colour = alt.Color("horizon:N", legend=None, scale=alt.Scale(domain=horizons, range=[look.after, look.later]))
    shape = alt.Shape("horizon:N", legend=None, scale=alt.Scale(domain=horizons, range=["circle", "diamond"]))
    tooltip = [
        alt.Tooltip("name", title="drill"),
        alt.Tooltip("label", title="reads"),
        *(alt.Tooltip(name, format=f".{shown.change_decimals}f") for name in ("effect", "ci_low", "ci_high")),
        alt.Tooltip("students"),
        alt.Tooltip("episodes"),
    ]
    band, zero = no_difference(matters, scale, look)
    base = alt.Chart(rows).encode(y=y, yOffset=offset)
    lines = base.mark_rule(strokeWidth=3, clip=True).encode(
        x=alt.X("ci_low:Q", scale=scale), x2=alt.X2("ci_high:Q"), color=colour
    )
    naive = base.mark_point(shape="circle", filled=False, size=110, strokeWidth=2, color=look.ink, clip=True).encode(
        x=alt.X("naive_change:Q", scale=scale), tooltip=tooltip
    )
    dots = (
        base.transform_filter("isValid(datum.ci_low)")
        .mark_point(filled=True, size=130, opacity=1, clip=True)
        .encode(x=x, color=colour, shape=shape, tooltip=tooltip)
    )
    text = beside(base, "label", look, 12)
    views = [band, zero, lines, naive, dots, text]
    described = f"Forest plot of {len(names)} drills for {shown.label}: change beyond free practice with 95% intervals."
    return finish(views, look, described, height=ROW * len(names), width=width)
