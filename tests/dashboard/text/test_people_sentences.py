"""Each sentence about cohorts and students says exactly what its row holds."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from made_numbers import ANGLE, CARRY, PATH

from dashboard.text import people_sentences, words


def cohort_row(**changed: Any) -> dict[str, Any]:
    """Return a row of a cohort's change."""
    row = {
        "cohort": "Spring",
        "club_group": "driver",
        "metric": "attack_angle",
        "measure": "centre",
        "students": 31,
        "students_only_before": 2,
        "before": 0.0,
        "after": 1.2,
        "change": 1.2,
        "ci_low": 0.6,
        "ci_high": 1.8,
        "expected_change": 0.3,
        "change_beyond_expected": 0.9,
        "beyond_low": 0.2,
        "beyond_high": 1.6,
        "share_beyond_mdc": 0.3871,
        "spread_before": 2.0,
        "spread_after": 1.8,
        "spread_change": -0.105,
        "spread_low": -0.18,
        "spread_high": -0.03,
    }
    return row | changed


def test_a_cohorts_change_stands_beside_what_practice_gives() -> None:
    assert people_sentences.cohort_change(cohort_row(), ANGLE) == (
        "Spring: driver attack angle rose 1.2° (95% 0.6 to 1.8); practice alone would have given +0.3°, which leaves "
        "+0.9° (95% 0.2 to 1.6); 31 students, 12 beyond their own noise."
    )
    unknown = cohort_row(cohort="all students", change_beyond_expected=None, beyond_low=None, ci_low=-0.6)
    assert people_sentences.cohort_change(unknown, ANGLE) == (
        "All students: driver attack angle rose 1.2° (95% −0.6 to 1.8), which cannot be told from no change; practice "
        "alone would have given +0.3°; 31 students, 12 beyond their own noise."
    )


def test_the_term_says_where_a_change_cannot_be_told_from_practice() -> None:
    said = people_sentences.whole(cohort_row(beyond_low=-0.1), ANGLE)
    assert said == (
        "All students this term: driver attack angle rose 0.9° beyond practice alone (95% −0.1 to 1.6), which cannot "
        "be told from what practice alone gives; 12 of 31 students changed by more than their own noise, better or "
        "worse."
    )
    assert "cannot be told" not in people_sentences.whole(cohort_row(), ANGLE)


def test_a_cohort_without_an_interval_is_not_compared() -> None:
    assert people_sentences.cohort_change(cohort_row(ci_low=None, students=1), ANGLE) == (
        "Spring: driver attack angle cannot be compared yet (1 student seen in both windows)."
    )


def test_spread_is_told_as_tighter_or_wider() -> None:
    assert people_sentences.spread_change(cohort_row(), ANGLE) == (
        "Spread within a session: 2.0° before, 1.8° after, about 10% tighter (95% −18 to −3%)."
    )


@pytest.mark.parametrize(
    ("low", "high", "better", "side"),
    [
        (0.1, 0.5, "up", "better"),
        (-0.5, -0.1, "up", "worse"),
        (-0.1, 0.5, "up", "open"),
        (-0.5, -0.1, "zero", "better"),
        (0.1, 0.5, "down", "worse"),
        (0.1, 0.5, None, "open"),
    ],
)
def test_a_row_is_better_only_with_its_interval_clear_of_no_change(
    low: float, high: float, better: str, side: str
) -> None:
    assert people_sentences.side_of(cohort_row(ci_low=low, ci_high=high), better) == side


def test_the_week_counts_comparisons() -> None:
    rows = [(cohort_row(), "up"), (cohort_row(ci_low=-1.0), "up")]
    assert people_sentences.week(rows) == (
        "Of 2 comparisons (a cohort and a goal number), 1 moved the better way with a 95% interval clear of no change, "
        "0 the worse way, and 1 cannot be told from no change. With what practice alone would have given taken off, 2 "
        "moved the better way and 0 the worse way."
    )
    less = [(cohort_row(beyond_low=-0.1), "up"), (cohort_row(beyond_low=None), "up")]
    assert people_sentences.week(less).endswith(
        "taken off, 0 of the 1 for which that is known moved the better way and 0 the worse way."
    )


def test_attrition_is_said() -> None:
    assert people_sentences.attrition(cohort_row()) == (
        "2 students of 33 with this number in the first weeks have none in the later ones and are not in the change."
    )
    assert people_sentences.attrition(cohort_row(students_only_before=0)) == (
        "All 31 students with this number in the first weeks have it in the later ones too."
    )


def forecast_row(**changed: Any) -> dict[str, Any]:
    """Return a forecast."""
    row = {
        "name": "Rod",
        "expected_effect": 1.2,
        "interval_low": 0.1,
        "interval_high": 2.3,
        "aim_direction": "raise",
        "episodes": 0,
        "verdict": "works",
        "certainty": "moderate",
    }
    return row | changed


def test_a_forecast_is_told_with_its_prediction_interval_and_evidence() -> None:
    assert people_sentences.forecast(forecast_row(), ANGLE) == (
        "Rod: expected 1.2° up beyond free practice (80% 0.1 to 2.3 for the next time); not done yet; evidence: "
        "works, "
        "moderate certainty."
    )


def test_a_forecast_of_a_distance_is_turned_so_that_plus_is_nearer() -> None:
    row = forecast_row(aim_direction="toward", expected_effect=-0.8, interval_low=-1.9, interval_high=0.3, episodes=2)
    assert people_sentences.forecast(row, PATH) == (
        "Rod: expected 0.8° nearer the target beyond free practice (80% −0.3 to 1.9 for the next time); done 2 times; "
        "evidence: works, moderate certainty."
    )


def test_no_drill_is_clearly_better_when_every_interval_reaches_zero() -> None:
    none = "No drill is clearly better than free practice for this student: every 80% interval reaches zero."
    assert people_sentences.next_drill([forecast_row(interval_low=-0.2)], ANGLE) == none
    assert people_sentences.next_drill([forecast_row(interval_low=0.04)], ANGLE) == none  # printed as 0.0
    assert people_sentences.next_drill([forecast_row()], ANGLE) == (
        "Expected to do more than free practice for this student, 80% interval above zero: Rod."
    )
    assert people_sentences.next_drill([], ANGLE) == words.NONE_EXPECTED


def test_parts_of_carry_are_told_in_display_units() -> None:
    row = {
        "name": "Rod",
        "night": date(2031, 4, 4),
        "club_group": "driver",
        "carry_change": 9.144,
        "from_club_speed": 0.9144,
        "from_contact": 1.8288,
        "from_attack_angle": 6.4008,
        "from_dynamic_loft": -0.9144,
        "from_spin": None,
        "remainder": 0.9144,
    }
    assert people_sentences.carry_sources(row, CARRY) == (
        "Rod, 4 April 2031, driver: carry changed by +10.0 yd, of which club speed +1.0 yd; contact +2.0 yd; attack "
        "angle "
        "+7.0 yd; dynamic loft −1.0 yd; not explained by the model +1.0 yd."
    )
