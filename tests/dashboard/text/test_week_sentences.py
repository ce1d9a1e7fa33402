"""The week's first sentence and the groups of what needs the director."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from dashboard.shell.number_format import Shown
from dashboard.text import week_sentences

ROW: dict[str, Any] = {
    "metric": "attack_angle", "club_group": "driver", "measure": "centre", "cohort": "Spring", "ci_low": 0.2,
    "ci_high": 1.0, "beyond_low": None, "beyond_high": None,
}  # fmt: skip


def shown(metric: str, group: str, measure: str) -> Shown:
    """Return how any number is shown here."""
    return Shown("attack_angle", "attack angle", "°", 1.0, 1, 1.0, "up")


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ([{}], "**Yes.** Better: driver attack angle (as it looks)."),
        ([{"ci_low": -1.0, "ci_high": -0.2}], "**No: worse.** Worse: driver attack angle (as it looks)."),
        ([{"ci_low": -1.0}, {"ci_low": -0.1}], "**Cannot tell yet.** None of 2 comparisons is clear of no change"),
        ([{}, {"ci_low": -1.0, "ci_high": -0.2}], "**Better and worse.**"),
        ([{"beyond_low": -0.2, "beyond_high": 0.5}], "**Cannot tell yet.** None of 1 comparison is clear of no change "
         "(beyond practice alone)."),
        ([{"cohort": "all students"}, {"ci_low": -1.0}], "**Cannot tell yet.**"),
    ],
)  # fmt: skip
def test_the_week_is_answered_in_one_short_sentence(changes: list[dict[str, Any]], told: str) -> None:
    said = week_sentences.verdict([(ROW | change, "up") for change in changes], shown)
    assert said.startswith(told)
    assert len(said.split()) <= 20


def test_pain_comes_first_and_nothing_is_left_out() -> None:
    kinds = ["evidence is thin", "bay drifts", "drill was stopped", "something new", "student slides"]
    groups = week_sentences.grouped([{"kind": kind} for kind in kinds])
    assert next(iter(groups)) == "Pain and struck aids"
    assert sum(len(rows) for rows in groups.values()) == len(kinds)


@pytest.mark.parametrize(("since", "new"), [(date(2031, 4, 7), True), (date(2031, 4, 6), False), (None, False)])
def test_new_is_what_came_up_since_monday(since: date | None, new: bool) -> None:
    assert week_sentences.is_new({"since": since}, date(2031, 4, 13)) is new
