"""The pictures of trials draw in both looks with labels, units and alternative text."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta

import drawn
import polars as pl
import pytest
from made_numbers import ANGLE

from dashboard.charts import trial_effect, trial_power, trial_recruitment, trial_value
from dashboard.shell import theme
from dashboard.shell.theme import Chart, Look


def draw_power(look: Look) -> Chart:
    frame = pl.DataFrame(
        {"students": [10, 20, 40] * 2, "power": [0.4, 0.7, 0.95, 0.9, 1.0, 1.0], "size": [0, 0, 0, 1, 1, 1],
         "reads": ["x"] * 6}
    )  # fmt: skip
    return trial_power.chart(frame, look, 26, 14, width=600)


def draw_recruitment(look: Look) -> Chart:
    weeks = [date(2031, 3, 3) + timedelta(weeks=n) for n in range(4)]
    frame = pl.DataFrame(
        {"week": weeks, "entered": [3, 0, 2, 4], "entered_so_far": [3, 3, 5, 9], "planned_so_far": [2.0, 4.0, 6.0, 8.0]}
    )
    return trial_recruitment.chart(frame, 24, look, width=600)


def draw_effect(look: Look) -> Chart:
    frame = pl.DataFrame(
        {"name": ["High tee"] * 2, "label": ["+1.2° (0.4 to 2.0)"] * 2, "analysis": ["as drawn", "as done"],
         "effect": [1.2, 1.4], "ci_low": [0.4, 0.5], "ci_high": [2.0, 2.3], "students": [11, 10],
         "reference_students": [10, 10]}
    )  # fmt: skip
    return trial_effect.chart(frame, ANGLE, look, "driver attack angle: difference from rod", width=600)


def draw_value(look: Look) -> Chart:
    frame = pl.DataFrame(
        {"label": ["1. Rod / High tee", "2. Rod / free practice"], "value": [12.0, 3.0], "reads": ["18 students", "x"]}
    )
    return trial_value.chart(frame, look, width=600)


CHARTS: dict[str, tuple[Callable[[Look], Chart], tuple[str, ...]]] = {
    "power": (draw_power, ("26 needed", "14 would take part here", "chance to find it", "80%")),
    "recruitment": (draw_recruitment, ("24 planned", "students entered", "week")),
    "effect": (draw_effect, ("High tee", "+1.2° (0.4 to 2.0)", "difference from rod (°)")),
    "value": (draw_value, ("1. Rod / High tee", "18 students", "expected gain over a year")),
}


@pytest.mark.parametrize("name", CHARTS)
@pytest.mark.parametrize("look", theme.LOOKS.values(), ids=lambda look: look.name)
def test_a_chart_draws_with_labels_alternative_text_and_fourteen_pixel_type(name: str, look: Look) -> None:
    draw, wanted = CHARTS[name]
    drawn.as_every_chart(draw(look), look, wanted)


def test_recruitment_starts_at_nothing_and_ends_at_what_was_entered() -> None:
    weeks = [date(2031, 3, 3)]
    frame = pl.DataFrame({"week": weeks, "entered": [3], "entered_so_far": [3], "planned_so_far": [2.0]})
    rows = trial_recruitment.prepared(frame)
    assert rows["entered_so_far"].to_list() == [0, 3]
    assert rows["week"].to_list() == [date(2031, 3, 3), date(2031, 3, 10)]
