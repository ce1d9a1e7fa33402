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


def named_in_words(spec: dict[str, Any]) -> None:
    """Assert that tooltips show words and decimals, never a column's name or a nothing."""
    rows = {name: frame for name, frame in spec.get("datasets", {}).items()}
    for view in spec.get("layer", [spec]):
        tips = view.get("encoding", {}).get("tooltip", [])
        for tip in tips if isinstance(tips, list) else [tips]:
            assert "_" not in tip["title"], tip
            own = rows.get(view.get("data", {}).get("name", ""), [])
            values = [row[tip["field"]] for row in own if tip["field"] in row] if isinstance(own, list) else []
            assert None not in values or tip.get("type") != "nominal", tip
            if any(isinstance(value, float) for value in values):
                assert "format" in tip, tip


def as_every_chart(chart: Chart, look: Look, wanted: tuple[str, ...]) -> None:
    """Assert that a chart says what is wanted, on its paper, with alternative text and in fourteen pixels."""
    drawing = theme.svg(chart)
    for text in wanted:
        assert text in drawing
    assert look.paper.lower() in drawing.lower()
    assert len(chart.settings["description"]) > 40
    as_vega_lite(chart.to_dict())
    named_in_words(chart.to_dict())
    assert not re.findall(r"aria-label=\"[^\"]*_[^\"]*\"", drawing), "a column's name is read aloud"
    assert set(re.findall(r'font-size="([\d.]+)px"', drawing)) == {"14"}
