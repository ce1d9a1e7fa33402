"""Colours by meaning, fonts and the setting of every chart, light and dark.

The palette is that of Okabe & Ito (2008), chosen to be told apart by colour-blind readers; a meaning never rests on
colour alone. Not here: what a chart draws (charts/).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from typing import Any

import altair as alt
import polars as pl

from dashboard.text import tooltips

FONT = '"Source Sans", "Source Sans Pro", sans-serif'
"""The font of the pages, so that text in pictures is of one piece with theirs."""
FONT_SIZE = 14


@dataclass(frozen=True)
class Look:
    """One look: a colour for each meaning."""

    name: str
    paper: str
    panel: str
    ink: str
    quiet: str
    grid: str
    band: str
    before: str
    after: str
    later: str
    expected: str
    warning: str
    drill: str


LIGHT = Look(
    "light",
    paper="#FFFFFF",
    panel="#F2F4F6",
    ink="#1B1F24",
    quiet="#59636E",
    grid="#E1E5E9",
    band="#DDE3E8",
    before="#5B7C99",
    after="#0072B2",
    later="#009E73",
    expected="#6E7781",
    warning="#D55E00",
    drill="#CC79A7",
)
DARK = Look(
    "dark",
    paper="#12161C",
    panel="#1F262E",
    ink="#E9ECEF",
    quiet="#A9B3BD",
    grid="#2D353E",
    band="#2F3A45",
    before="#9DB8D0",
    after="#56B4E9",
    later="#2CC79A",
    expected="#A9B3BD",
    warning="#F08A3C",
    drill="#E29AC4",
)
LOOKS = {look.name: look for look in (LIGHT, DARK)}


@dataclass(frozen=True)
class Chart:
    """A finished chart.

    Attributes
    ----------
    views
        What is drawn, the later over the earlier.
    settings
        Look, size and alternative text, as Vega-Lite names them.
    """

    views: tuple[alt.Chart, ...]
    settings: dict[str, Any]

    def to_dict(self) -> dict[str, Any]:
        """Return it as Vega-Lite; altair's own layering would copy every view whole, three times."""
        context: dict[str, Any] = {"datasets": {}, "top_level": False}
        views = [in_words(view.to_dict(validate=False, context=context)) for view in self.views]
        drawn = {"layer": views} if len(views) > 1 else views[0]
        return {"$schema": alt.SCHEMA_URL, **self.settings, **drawn, "datasets": context["datasets"]}


def in_words(view: dict[str, Any]) -> dict[str, Any]:
    """Give each tooltip of a view its title in words, and a day its form."""
    tips = view.get("encoding", {}).get("tooltip", [])
    for tip in tips if isinstance(tips, list) else [tips]:
        tip.setdefault("title", tooltips.TITLES.get(tip.get("field"), tip.get("field")))
        if tip.get("field") in tooltips.DAYS and tip.get("type") == "temporal":
            tip.setdefault("format", tooltips.DAY)
    return view


NARROW = 440
"""A chart's place narrower than this many pixels, a telephone's: what stands beside marks leaves its room to them."""
WIDE = f"!(containerSize()[0] < {NARROW})"
"""Holds where there is room beside the marks; a print has no place of its own and room enough."""


def label_limit(pixels: int) -> alt.ExprRef:
    """Return how long an axis's labels may be, less on a telephone."""
    return alt.ExprRef(expr=f"containerSize()[0] < {NARROW} ? {min(pixels, 120)} : {pixels}")


def beside(base: alt.Chart, column: str, look: Look, away: int) -> alt.Chart:
    """Return words at the right of a chart's marks, where there is room.

    Parameters
    ----------
    base
        The rows, each in its place.
    column
        Holds the words.
    away
        Pixels from the plot.
    """
    marks = base.transform_filter(WIDE).mark_text(align="left", dx=away, color=look.ink)
    return marks.encode(x=alt.XValue("width"), text=alt.Text(f"{column}:N"))


MOST_TICKS = 8


def ticks(moments: Sequence[date]) -> list[alt.DateTime]:
    """Return days or moments as an axis's own marks, where many every second or third of them."""
    every = max(len(moments) // MOST_TICKS, 1)
    return [
        alt.DateTime(year=at.tm_year, month=at.tm_mon, date=at.tm_mday, hours=at.tm_hour, minutes=at.tm_min,
                     seconds=at.tm_sec)
        for at in (one.timetuple() for one in moments[::every])
    ]  # fmt: skip


def finish(
    views: Sequence[alt.Chart], look: Look, description: str, *, height: int | None = None, width: int | None = None
) -> Chart:
    """Give what is drawn its look, its alternative text and its size.

    Parameters
    ----------
    views
        What to draw, the later over the earlier.
    look
        The colours.
    description
        Alternative text: what the picture shows, in one or two sentences.
    height, width
        Pixels; without a width the chart takes that of its place on the page.
    """
    settings: dict[str, Any] = {
        "description": description,
        "padding": {"left": 4, "right": 10, "top": 6, "bottom": 4},
        "autosize": {"type": "fit-x", "contains": "padding"},
        "config": config(look),
        "width": width or "container",
    }
    return Chart(tuple(views), settings | ({"height": height} if height else {}))


def no_difference(matters: float, scale: alt.Scale, look: Look) -> tuple[alt.Chart, alt.Chart]:
    """Return what lies behind differences: the band of those too small to matter, and the line at none.

    Parameters
    ----------
    matters
        Smallest change that matters, in the axis's unit.
    scale
        The differences' scale.
    """
    band = (
        alt.Chart(pl.DataFrame({"low": [-matters], "high": [matters]}))
        .mark_rect(color=look.band)
        .encode(x=alt.X("low:Q", scale=scale), x2=alt.X2("high:Q"))
    )
    zero = (
        alt.Chart(pl.DataFrame({"at": [0]}))
        .mark_rule(color=look.ink, strokeWidth=1.5)
        .encode(x=alt.X("at:Q", scale=scale))
    )
    return band, zero


@cache
def config(look: Look) -> dict[str, Any]:
    """Return what every chart has of a look."""
    axis = alt.AxisConfig(
        labelFontSize=FONT_SIZE,
        titleFontSize=FONT_SIZE,
        labelColor=look.ink,
        titleColor=look.ink,
        titleFontWeight="normal",
        gridColor=look.grid,
        domainColor=look.quiet,
        tickColor=look.quiet,
        labelLimit=label_limit(220),
        titlePadding=10,
    )
    return alt.Config(
        background=look.paper,
        font=FONT,
        view=alt.ViewConfig(stroke=None),
        axis=axis,
        axisX=alt.AxisConfig(titleAnchor=alt.ExprRef(expr=f"containerSize()[0] < {NARROW} ? 'end' : 'middle'")),
        axisQuantitative=alt.AxisConfig(tickCount=6, labelOverlap=True, labelSeparation=8),
        mark=alt.MarkConfig(aria=False),  # a chart's description and its text twin are read aloud, not columns' names
        text=alt.MarkConfig(fontSize=FONT_SIZE, color=look.ink, font=FONT, aria=False),
        title=alt.TitleConfig(fontSize=FONT_SIZE, color=look.ink, anchor="start", fontWeight="normal"),
    ).to_dict()


def svg(chart: Chart) -> str:
    """Return the chart as SVG text, drawn without a browser."""
    import vl_convert

    return vl_convert.vegalite_to_svg(chart.to_dict())
