"""Drills by numbers: a sign and a word for side, size and certainty; better has one sign whichever way is better."""

from __future__ import annotations

from typing import Any

import pytest

from dashboard.sections import drill_matrix
from dashboard.shell.home_view import Home
from dashboard.shell.number_format import Shown
from dashboard.shell.page_context import Reading
from dashboard.text import matrix_sentences
from dashboard.text.drill_sentences import first_up

DEGREES = Shown("attack_angle", "attack angle", "°", 1.0, 1, 1.0, "up")
ROW: dict[str, Any] = {
    "effect": 1.4, "ci_low": 0.8, "ci_high": 2.0, "better": "up", "verdict": "works", "certainty": "moderate",
    "is_aim": True, "matters_from": 1.0, "check_effect": 1.1, "check_low": 0.4, "check_high": 1.8,
}  # fmt: skip


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({}, "◎ ▲ +1.4° better (moderate)"),
        ({"better": "down", "is_aim": False}, "▼ +1.4° worse (moderate)"),
        ({"better": "down", "effect": -1.4, "ci_low": -2.0, "ci_high": -0.8}, "◎ ▲ −1.4° better (moderate)"),
        ({"better": None, "is_aim": False, "verdict": None}, "↑ +1.4° up (moderate)"),
        ({"ci_low": -0.2, "is_aim": False}, "○ +1.4° unclear (moderate)"),
        ({"ci_low": -0.2, "verdict": "no meaningful effect"}, "◎ ○ +1.4° no effect that matters (moderate)"),
        ({"verdict": "too early", "certainty": "low"}, "◎ ▲ +1.4° better, too early (low)"),
    ],
)
def test_a_cell_says_side_size_and_certainty_by_sign_and_word(change: dict[str, Any], told: str) -> None:
    assert matrix_sentences.cell(ROW | change, DEGREES) == told


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"verdict": "helps", "ci_low": 1.0}, "The second way of estimating gives +1.1° (95% 0.4 to 1.8)"),
        ({"verdict": "helps", "ci_low": 0.3}, ""),
        ({"verdict": "works", "ci_low": 1.2}, ""),
    ],
)
def test_an_effect_past_what_matters_that_only_helps_says_why(change: dict[str, Any], told: str) -> None:
    said = matrix_sentences.helps_not_works(ROW | change, DEGREES)
    assert said.startswith(told)
    assert bool(said) == bool(told)


def test_every_drill_with_an_effect_has_a_line_and_what_is_not_known_is_empty(published: str) -> None:
    read = Reading(Home(None, published, {}, "imperial"), published)  # type: ignore[arg-type]
    rows = read.ask("drill_matrix")
    lines = drill_matrix.table(read, rows)
    assert [line["drill"] for line in lines] == rows["name"].unique(maintain_order=True).to_list()
    columns = [first_up(read.shown(metric, "any").label) for metric in drill_matrix.numbers(rows)]
    assert all(list(line)[1:] == columns for line in lines)
    rod = next(line for line in lines if line["drill"] == "Rod behind the ball")
    assert rod["Attack angle"].startswith("◎ ▲ +1.4°")
    assert "" in [cell for line in lines for cell in line.values()]
