"""Each sentence about one student's number says exactly what its row holds."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from made_numbers import ANGLE, CARRY

from dashboard.text import goal_sentences


def goal_row(**changed: Any) -> dict[str, Any]:
    """Return a student's number."""
    row = {
        "club_group": "driver",
        "metric": "attack_angle",
        "sessions": 6,
        "first_week": date(2031, 3, 3),
        "first_centre": 0.1,
        "latest_centre": 2.0,
        "change": 1.9,
        "ci_low": 0.6,
        "ci_high": 3.2,
        "minimal_detectable_change": 1.3,
        "change_beyond_expected": None,
        "beyond": True,
        "better": "up",
        "distance_change": None,
    }
    return row | changed


def test_a_students_change_is_held_against_their_own_noise() -> None:
    assert goal_sentences.goal(goal_row(), ANGLE) == (
        "Driver attack angle is now 2.0°, +1.9° since 3 March 2031 (95% 0.6 to 3.2), more than this student's usual "
        "day-to-day difference (1.3°), the better way."
    )
    assert "which cannot be told from this student's usual day-to-day difference (1.3°)." in goal_sentences.goal(
        goal_row(beyond=False), ANGLE
    )


def test_what_practice_alone_gives_is_taken_off_before_a_change_is_held_against_noise() -> None:
    # Without the middle part "+1.9° … cannot be told from 1.3°" would contradict itself.
    assert goal_sentences.goal(goal_row(beyond=False, change_beyond_expected=0.9), ANGLE).endswith(
        "+1.9° since 3 March 2031 (95% 0.6 to 3.2); less what practice alone would have given it is +0.9°, which "
        "cannot be told from this student's usual day-to-day difference (1.3°)."
    )
    assert goal_sentences.goal(goal_row(change=0.2, change_beyond_expected=-1.6), ANGLE).endswith(
        "it is −1.6°, more than this student's usual day-to-day difference (1.3°), the worse way."
    )


@pytest.mark.parametrize(
    ("better", "change", "distance", "way"),
    [
        ("up", -1.9, None, ", the worse way"),
        ("down", -1.9, None, ", the better way"),
        ("zero", -2.4, 2.4, ", the worse way"),
        ("zero", -2.4, -0.6, ", the better way"),
        ("zero", -2.4, None, ""),
        (None, 1.9, None, ""),
    ],
)
def test_a_change_beyond_noise_says_which_way_it_went(
    better: str | None, change: float, distance: float | None, way: str
) -> None:
    assert goal_sentences.way_of(goal_row(better=better, change=change, distance_change=distance)) == way


def test_a_first_session_already_says_something() -> None:
    row = goal_row(latest_centre=None, change=None, sessions=1)
    assert goal_sentences.goal(row, ANGLE) == (
        "Driver attack angle: 1 session so far; a change can be told from day-to-day noise after a few more."
    )


def test_a_students_own_goal_is_in_their_words() -> None:
    row = {
        "words": "carry the creek",
        "metric": "carry",
        "club_group": "driver",
        "target": 182.88,
        "by_date": date(2031, 6, 1),
    }
    assert goal_sentences.own_goal(row, CARRY) == (
        "Own goal: “carry the creek” (driver carry, target 200 yd, by 1 June 2031)."
    )
