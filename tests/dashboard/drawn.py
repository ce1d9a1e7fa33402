"""How every chart has to be drawn. Not here: what each of them shows."""

from __future__ import annotations

import re
from typing import Any

import altair as alt

from dashboard.shell import theme
from dashboard.shell.theme import Chart, Look


def as_vega_lite(spec: dict[str, Any]) -> None:
    """Assert that a chart keeps to Vega-Lite's schema: pages draw without asking."""
    alt.Chart.from_dict(spec, validate=True)


def as_every_chart(chart: Chart, look: Look, wanted: tuple[str, ...]) -> None:
    """Assert that a chart says what is wanted, on its paper, with alternative text and in fourteen pixels."""
    drawing = theme.svg(chart)
    for text in wanted:
        assert text in drawing
    assert look.paper.lower() in drawing.lower()
    assert len(chart.settings["description"]) > 40
    as_vega_lite(chart.to_dict())
    assert set(re.findall(r'font-size="([\d.]+)px"', drawing)) == {"14"}
