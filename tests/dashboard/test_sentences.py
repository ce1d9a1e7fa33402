"""Each sentence says exactly what its row holds."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

import polars as pl
import pytest

from dashboard import people_sentences, sentences, words
from dashboard.shown import SPREAD, Shown, shown

ANGLE = Shown("attack_angle", "attack angle", "°", 1.0, 1, 1.0, "up")
PATH = Shown("club_path", "club path", "°", 1.0, 1, 1.0, "zero")
CARRY = Shown("carry", "carry", "yd", 0.9144, 0, 4.5, "up")
SPIN = Shown("spin_rate", "spin rate", "rpm", 1.0, 0, 250.0, None)
SMASH = Shown("smash_factor", "smash factor", "", 1.0, 2, 0.02, "up")
SPEED = Shown("club_speed", "club speed", "mph", 0.44704, 1, 0.9, "up")


def effect_row(**changed: Any) -> dict[str, Any]:
    """Return a row of an effect."""
    row = {
        "name": "Rod",
        "metric": "attack_angle",
        "measure": "centre",
        "club_group": "driver",
        "horizon": "transfer",
        "episodes": 60,
        "students": 31,
        "is_aim": True,
        "naive_change": 2.6,
        "effect": 1.4,
        "ci_low": 0.8,
        "ci_high": 2.0,
        "shrunk_effect": 1.3,
        "verdict": "works",
        "verdict_reason": None,
        "certainty": "moderate",
        "certainty_reason": None,
        "not_estimable_reason": None,
        "free_change": 0.5,
        "comparator": None,
        "comparator_alone": 60,
        "comparator_with_coach": 12,
        "effect_beyond_lesson": None,
        "responder_share": 0.3,
        "free_practice_responder_share": 0.05,
        "drawn_share": 0.2,
        "drawn_effect": None,
        "drawn_low": None,
        "drawn_high": None,
        "check_effect": 1.3,
        "check_low": 0.6,
        "check_high": 2.0,
    }
    return row | changed


def test_an_effect_is_told_with_interval_students_and_certainty() -> None:
    assert sentences.effect(effect_row(), ANGLE) == (
        "Driver attack angle rose 1.4° beyond free practice (95% 0.8 to 2.0), 31 students, moderate certainty."
    )


def test_an_effect_downward_is_told_with_true_minus_signs() -> None:
    row = effect_row(effect=-1.2, ci_low=-1.8, ci_high=-0.6, club_group="iron", certainty="low")
    assert sentences.effect(row, ANGLE) == (
        "Attack angle with irons fell 1.2° beyond free practice (95% −1.8 to −0.6), 31 students, low certainty."
    )


def test_an_effect_on_a_distance_says_whether_it_is_nearer() -> None:
    row = effect_row(measure="distance", effect=-0.8, ci_low=-1.3, ci_high=-0.3)
    assert sentences.effect(row, PATH) == (
        "Distance from the target of driver club path fell 0.8° (nearer) beyond free practice (95% −1.3 to −0.3), "
        "31 students, moderate certainty."
    )


def test_an_effect_next_session_says_where_the_number_stood() -> None:
    assert sentences.effect(effect_row(horizon="retention", effect=0.7, ci_low=0.1, ci_high=1.3), ANGLE) == (
        "Next session, driver attack angle stood +0.7° beyond free practice (95% 0.1 to 1.3), 31 students, moderate "
        "certainty."
    )


def test_an_effect_that_is_not_there_says_why() -> None:
    row = effect_row(effect=None, ci_low=None, ci_high=None, verdict="too early", verdict_reason="4 of 10 students")
    assert sentences.effect(row, ANGLE) == "Driver attack angle: no effect can be given yet (4 of 10 students)."
    assert sentences.effect_in_list(row, ANGLE) == "Rod, same session: no interval yet (4 of 10 students)."


def test_an_effect_of_nothing_stays_the_same() -> None:
    row = effect_row(effect=0.02, ci_low=-0.3, ci_high=0.3)
    assert sentences.effect(row, ANGLE).startswith("Driver attack angle stayed the same (to 0.1°) beyond free practice")


def test_a_line_of_the_forest_holds_the_plain_difference_for_what_it_is() -> None:
    assert sentences.effect_in_list(effect_row(), ANGLE) == (
        "Rod, same session: +1.4° beyond free practice (95% 0.8 to 2.0); before to after, as it looks +2.6°; 31 "
        "students, "
        "60 episodes; works: at least 1° better; moderate certainty."
    )


def test_the_best_drill_is_the_largest_of_those_that_work() -> None:
    rows = [
        effect_row(),
        effect_row(name="Tee", shrunk_effect=1.9, effect=2.0),
        effect_row(name="Bag", verdict="helps"),
    ]
    assert sentences.best_drill(rows, ANGLE, "driver") == (
        "**Tee** is best supported: driver attack angle rose 2.0° beyond free practice (95% 0.8 to 2.0), 31 students, "
        "moderate certainty; works: at least 1° better. 1 other drill also works."
    )


def test_no_drill_stands_out_when_none_is_surely_better() -> None:
    rows = [effect_row(verdict="unclear"), effect_row(verdict="wrong way"), effect_row(is_aim=False)]
    assert sentences.best_drill(rows, ANGLE, "driver") == (
        "No drill stands out for driver attack angle: none of 2 is surely better than free practice."
    )


def test_it_is_too_early_when_every_drill_is() -> None:
    assert sentences.best_drill([effect_row(verdict="too early")], ANGLE, "driver") == (
        "It is too early to say which drill moves driver attack angle: no drill has 10 students and 20 episodes yet."
    )


@pytest.mark.parametrize(
    ("verdict", "text"),
    [
        ("works", "works: at least 4.9 yd better"),
        ("helps", "helps: better, perhaps by less than matters"),
        ("unclear", "unclear"),
        (None, "no better direction is set"),
    ],
)
def test_a_verdict_cannot_be_misread(verdict: str | None, text: str) -> None:
    assert sentences.verdict_words(verdict, CARRY) == text


def test_every_verdict_of_the_tables_has_words_and_help() -> None:
    from warehouse.schema.drill_mart import VERDICTS

    assert set(VERDICTS) == set(words.VERDICTS) == set(words.VERDICT_HELP)


def test_the_plain_difference_is_split_from_what_practice_gives() -> None:
    assert sentences.free_practice_gave(effect_row(), ANGLE) == (
        "Before to after, as it looks, the change is +2.6°; free practice alone would have given +0.5° of it."
    )


def test_a_comparator_with_few_lessons_includes_the_coachs_attention() -> None:
    assert sentences.comparator(effect_row()) == (
        "Compared with 60 stretches of practice alone and 12 lessons without a drill; the effect includes the coach's "
        "attention."
    )


def test_warnings_come_from_verdict_and_lost_balls() -> None:
    lost = {
        "outcome": "mishit_share",
        "club_group": "driver",
        "students": 18,
        "before": 0.06,
        "after": 0.11,
        "effect": 0.05,
        "ci_low": 0.01,
        "ci_high": 0.09,
        "warning": True,
        "warning_reason": None,
    }
    row = effect_row(effect=-1.0, ci_low=-1.5, ci_high=-0.5, verdict="wrong way")
    assert sentences.warnings([row], [lost], lambda _: ANGLE) == [
        "Wrong way: driver attack angle fell 1.0° beyond free practice (95% −1.5 to −0.5), 31 students, moderate "
        "certainty.",
        "More lost balls: mishits with driver: 6% before, 11% after; +5.0 percentage points beyond free practice "
        "(95% 1.0 to 9.0).",
    ]


def test_responders_stand_beside_luck() -> None:
    assert sentences.responders(effect_row()) == (
        "30% of the students who did it twice or more surely gained more than matters; the same rule would name 5% of "
        "free "
        "practice."
    )


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
        "Spring: driver attack angle rose 1.2° (95% 0.6 to 1.8); practice alone would have given +0.3°; 31 students, "
        "12 beyond their own noise."
    )


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
        "0 the worse way, and 1 cannot be told from no change."
    )


def test_attrition_is_said() -> None:
    assert people_sentences.attrition(cohort_row()) == (
        "2 students of 33 seen before were not seen after and are not in the change."
    )
    assert people_sentences.attrition(cohort_row(students_only_before=0)) == (
        "All 31 students seen before were also seen after."
    )


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
        "beyond": True,
    }
    return row | changed


def test_a_students_change_is_held_against_their_own_noise() -> None:
    assert people_sentences.goal(goal_row(), ANGLE) == (
        "Driver attack angle is now 2.0°, +1.9° since 3 March 2031 (95% 0.6 to 3.2): more than this student's usual "
        "day-to-day difference (1.3°)."
    )
    assert "within this student's usual day-to-day difference (1.3°)" in people_sentences.goal(
        goal_row(beyond=False), ANGLE
    )


def test_a_first_session_already_says_something() -> None:
    row = goal_row(latest_centre=None, change=None, sessions=1)
    assert people_sentences.goal(row, ANGLE) == (
        "Driver attack angle: 1 session so far; a change can be told from day-to-day noise after a few more."
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
        "Rod: expected +1.2° up beyond free practice (80% 0.1 to 2.3 for the next time); not done yet; evidence: "
        "works, "
        "moderate certainty."
    )


def test_a_forecast_of_a_distance_is_turned_so_that_plus_is_nearer() -> None:
    row = forecast_row(aim_direction="toward", expected_effect=-0.8, interval_low=-1.9, interval_high=0.3, episodes=2)
    assert people_sentences.forecast(row, PATH) == (
        "Rod: expected +0.8° nearer the target beyond free practice (80% −0.3 to 1.9 for the next time); done 2 times; "
        "evidence: works, moderate certainty."
    )


def test_no_drill_is_clearly_better_when_every_interval_reaches_zero() -> None:
    assert people_sentences.next_drill([forecast_row(interval_low=-0.2)]) == (
        "No drill is clearly better than free practice for this student: every 80% interval reaches zero."
    )
    assert people_sentences.next_drill([forecast_row()]) == ("Clearly better than free practice for this student: Rod.")


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


def night_row(bay: str, state: str, **changed: Any) -> dict[str, Any]:
    """Return a bay's night."""
    return {
        "bay_id": bay,
        "state": state,
        "late": False,
        "reason": None,
        "shots": 90,
        "rejected": 1,
        "unattributed": 2,
        "lessons": 4,
    } | changed


def test_bays_that_did_not_report_are_named() -> None:
    rows = [
        night_row("B1", "reported"),
        night_row("B2", "silent"),
        night_row("B3", "refused", reason="it is empty"),
        night_row("B4", "reported", late=True),
        night_row("B5", "no lessons"),
    ]
    assert people_sentences.bays(rows) == (
        "2 of 4 bays that should have reported did. Silent: B2. Refused: B3 (it is empty). Late: B4."
    )
    assert people_sentences.bay_night(rows[0]) == "Bay B1: 90 shots, 1 row refused, 2 of no person."
    assert people_sentences.bay_night(rows[1]) == "Bay B2: silent, 4 lessons booked."


def test_a_bays_offset_and_clock_are_told() -> None:
    row = {"bay_id": "B1", "bay_offset": -0.6, "ci_low": -1.0, "ci_high": -0.2, "overlap_students": 9, "drifting": True}
    assert people_sentences.offset(row, ANGLE) == (
        "Bay B1: −0.6° (95% −1.0 to −0.2), 9 students seen elsewhere too; drifting."
    )
    assert people_sentences.clock({"bay_id": "B1", "ahead_seconds": -186.0, "lessons": 12}) == (
        "Bay B1: about 3.1 minutes behind the lesson book, from 12 lessons."
    )


def test_freshness_says_night_and_publication() -> None:
    row = {
        "through_night": date(2031, 4, 13),
        "published_at": datetime(2031, 4, 14, 3, 12),
        "shots": 300123,
        "sessions": 2400,
        "episodes": 1,
    }
    assert people_sentences.freshness(row) == (
        "Through the night of 13 April 2031; published 14 April 2031 03:12 UTC; 300,123 shots, 2,400 sessions, 1 "
        "drill episode."
    )


@pytest.mark.parametrize(
    ("how", "number", "text"),
    [
        (ANGLE, 1.44, "+1.4°"),
        (ANGLE, -0.04, "0.0°"),
        (CARRY, -2.7432, "−3.0 yd"),
        (SPIN, 260.2, "+260 rpm"),
        (SMASH, 0.0134, "+0.013"),
        (SPEED, 0.44704, "+1.0 mph"),
        (SPREAD, -0.08, "−8%"),
        (ANGLE, None, "not known"),
    ],
)
def test_a_change_shows_unit_sign_and_sensible_decimals(how: Shown, number: float | None, text: str) -> None:
    assert how.change(number).replace(" %", "%") == text


def test_units_come_from_the_metric_table_or_the_metric_system() -> None:
    row = {
        "metric": "club_speed",
        "club_group": "driver",
        "label": "club speed",
        "unit": "m/s",
        "display_unit": "mph",
        "per_display_unit": 0.44704,
        "decimals": 1,
        "matters_from": 0.9,
        "better": "up",
    }
    frame = pl.DataFrame([row, row | {"club_group": "iron", "better": None, "matters_from": 1.2}])
    # 36 km/h = 10 m/s exactly; 1 mph = 0.44704 m/s exactly (international mile).
    assert shown(frame, "club_speed", "driver", "imperial").value(44.704) == "100.0 mph"
    assert shown(frame, "club_speed", "driver", "metric").value(10.0) == "36.0 km/h"
    assert shown(frame, "club_speed", "any", "imperial").matters_from == 1.2
    assert shown(frame, "club_speed", "any", "imperial").better is None
