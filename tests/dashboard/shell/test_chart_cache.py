"""A chart is drawn once for what is drawn, given again only to who brings the same rows, and keeps to Vega-Lite."""

from __future__ import annotations

import json
from typing import Any

import altair as alt
import drawn
import polars as pl
import pytest
from altair.utils import schemapi
from streamlit.testing.v1 import AppTest
from test_charts import CHARTS, Draw, read
from test_trial_charts import CHARTS as TRIALS

from dashboard.shell import chart_cache, theme
from dashboard.shell.page_context import Reading
from dashboard.shell.theme import Chart, Look
from tests.clock import PATIENCE

__all__ = ["read"]
ROWS = pl.DataFrame({"name": ["Given1 Family1", "Given2 Family2"], "value": [1.0, 2.0]})
calls: list[str] = []


def bars(frame: pl.DataFrame, look: Look, title: str = "value") -> Chart:
    """Draw one bar a name."""
    calls.append(title)
    views = [alt.Chart(frame).mark_bar().encode(x=alt.X("value:Q", title=title), y=alt.Y("name:N"))] * 2
    return theme.finish(views, look, "Bars.")


@pytest.fixture(autouse=True)
def nothing_drawn() -> None:
    """Begin with no drawing kept."""
    chart_cache._kept.clear()
    calls.clear()


def content(found: chart_cache.Drawing) -> list[list[str]]:
    """Return the names in a drawing's rows."""
    return [pl.read_ipc_stream(rows)["name"].to_list() for rows in found.rows.values()]


def test_the_same_rows_are_drawn_once() -> None:
    first = chart_cache.drawn(bars, ROWS, theme.LIGHT, title="shots")
    assert chart_cache.drawn(bars, ROWS.clone(), theme.LIGHT, title="shots") is first
    assert calls == ["shots"]


@pytest.mark.parametrize(
    ("given", "named"),
    [((ROWS, theme.DARK), {}), ((ROWS.head(1), theme.LIGHT), {}), ((ROWS, theme.LIGHT), {"title": "other"})],
)
def test_another_look_row_or_title_is_another_drawing(given: tuple[Any, ...], named: dict[str, str]) -> None:
    chart_cache.drawn(bars, ROWS, theme.LIGHT)
    chart_cache.drawn(bars, *given, **named)
    assert len(calls) == 2


def test_who_brings_ids_is_never_given_a_drawing_with_names() -> None:
    with_names = chart_cache.drawn(bars, ROWS, theme.LIGHT)
    ids = ROWS.with_columns(name=pl.Series(["S001", "S002"]))
    without = chart_cache.drawn(bars, ids, theme.LIGHT)
    assert content(with_names) == [["Given1 Family1", "Given2 Family2"]]
    assert content(without) == [["S001", "S002"]]
    assert "Family" not in without.spec


def test_rows_stand_beside_the_drawing_once_however_many_views_show_them() -> None:
    found = chart_cache.drawn(bars, ROWS, theme.LIGHT)
    spec = json.loads(found.spec)
    assert [view["data"] for view in spec["layer"]] == [{"name": name} for name in found.rows] * 2
    assert len(found.rows) == 1


def test_altair_looks_at_what_is_drawn_again_afterwards() -> None:
    chart_cache.drawn(bars, ROWS, theme.LIGHT)
    assert schemapi.DEBUG_MODE
    with pytest.raises(schemapi.SchemaValidationError):
        alt.Scale(domain={"no": "domain"}, nice="very")


@pytest.mark.parametrize("name", CHARTS)
def test_what_a_page_is_sent_keeps_to_vega_lite(name: str, read: Reading, monkeypatch: pytest.MonkeyPatch) -> None:
    draw: Draw = CHARTS[name][0]
    draw(read, theme.LIGHT)
    monkeypatch.setattr(schemapi.SchemaBase, "from_dict", refused)
    found = chart_cache.finished(lambda: draw(read, theme.LIGHT))
    monkeypatch.undo()
    drawn.as_vega_lite(json.loads(found.spec))


@pytest.mark.parametrize("name", TRIALS)
def test_what_a_page_is_sent_of_a_trial_keeps_to_vega_lite(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    draw = TRIALS[name][0]
    monkeypatch.setattr(schemapi.SchemaBase, "from_dict", refused)
    found = chart_cache.finished(lambda: draw(theme.LIGHT))
    monkeypatch.undo()
    drawn.as_vega_lite(json.loads(found.spec))


def refused(*given: Any, **named: Any) -> None:
    """Stand for the search through every class of the schema, ten milliseconds for each channel given as text."""
    raise AssertionError("a channel is given as text; name its class: alt.Y2('high:Q')")


def test_a_spec_that_is_no_vega_lite_is_found() -> None:
    spec = bars(ROWS, theme.LIGHT).to_dict()
    drawn.as_vega_lite(spec)
    spec["layer"][0]["mark"] = {"type": "bars"}
    with pytest.raises(schemapi.jsonschema.ValidationError):
        drawn.as_vega_lite(spec)


def page() -> None:
    """Show a drawing."""
    import polars as pl

    from dashboard.charts import query_result
    from dashboard.shell import chart_cache, theme

    frame = pl.DataFrame({"club": ["driver", "iron"], "shots": [3, 4]})
    chart_cache.show(chart_cache.drawn(query_result.chart, frame, "club", "shots", theme.LIGHT), key="bars")


def test_a_page_shows_a_drawing_with_its_rows() -> None:
    app = AppTest.from_function(page, default_timeout=PATIENCE).run()
    assert not app.exception
    (shown,) = app.get("vega_lite_chart")
    assert [len(one.data.data) > 0 for one in shown.proto.datasets] == [True]
    assert json.loads(shown.proto.spec)["description"]
