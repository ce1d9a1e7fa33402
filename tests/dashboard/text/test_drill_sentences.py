"""Each sentence about drills says exactly what its row holds."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from made_numbers import ANGLE, CARRY, PATH

from dashboard.text import drill_sentences, words


def effect_row(**changed: Any) -> dict[str, Any]:
    """Return a row of an effect."""
    row = {
        "name": "Rod",
        "drill_id": "R1",
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
    assert drill_sentences.effect(effect_row(), ANGLE) == (
        "Driver attack angle rose 1.4° beyond free practice (95% 0.8 to 2.0), 31 students, moderate certainty."
    )


def test_an_effect_downward_is_told_with_true_minus_signs() -> None:
    row = effect_row(effect=-1.2, ci_low=-1.8, ci_high=-0.6, club_group="iron", certainty="low")
    assert drill_sentences.effect(row, ANGLE) == (
        "Attack angle with irons fell 1.2° beyond free practice (95% −1.8 to −0.6), 31 students, low certainty."
    )


def test_an_effect_on_a_distance_says_whether_it_is_nearer() -> None:
    row = effect_row(measure="distance", effect=-0.8, ci_low=-1.3, ci_high=-0.3)
    assert drill_sentences.effect(row, PATH) == (
        "Distance from the target of driver club path fell 0.8° (nearer) beyond free practice (95% −1.3 to −0.3), "
        "31 students, moderate certainty."
    )


def test_an_effect_next_session_says_where_the_number_stood() -> None:
    assert drill_sentences.effect(effect_row(horizon="retention", effect=0.7, ci_low=0.1, ci_high=1.3), ANGLE) == (
        "Next session, driver attack angle stood +0.7° beyond free practice (95% 0.1 to 1.3), 31 students, moderate "
        "certainty."
    )


def test_an_effect_that_is_not_there_says_why() -> None:
    row = effect_row(effect=None, ci_low=None, ci_high=None, verdict="too early", verdict_reason="4 of 10 students")
    assert drill_sentences.effect(row, ANGLE) == "Driver attack angle: no effect can be given yet (4 of 10 students)."
    assert drill_sentences.effect_in_list(row, ANGLE) == "Rod, same session: no interval yet (4 of 10 students)."


def test_an_effect_of_nothing_stays_the_same() -> None:
    row = effect_row(effect=0.02, ci_low=-0.3, ci_high=0.3)
    assert drill_sentences.effect(row, ANGLE).startswith(
        "Driver attack angle stayed the same (to 0.1°) beyond free practice"
    )


def test_a_line_of_the_forest_holds_the_plain_difference_for_what_it_is() -> None:
    assert drill_sentences.effect_in_list(effect_row(), ANGLE) == (
        "Rod, same session: +1.4° beyond free practice (95% 0.8 to 2.0); before to after, as it looks +2.6°; 31 "
        "students, "
        "60 episodes; works: at least 1° better; moderate certainty."
    )


def test_the_best_drill_is_the_largest_of_those_that_work() -> None:
    rows = [
        effect_row(),
        effect_row(name="Tee", drill_id="R2", shrunk_effect=1.9, effect=2.0),
        effect_row(name="Bag", drill_id="R3", verdict="helps"),
    ]
    best = (
        "**Tee** is best supported: driver attack angle rose 2.0° beyond free practice (95% 0.8 to 2.0), 31 students, "
        "moderate certainty; works: at least 1° better."
    )
    assert drill_sentences.best_drill(rows, ANGLE, "driver") == (
        f"{best} Whether it is still there next session is not known yet. 1 other drill also works."
    )
    later = {"horizon": "retention", "effect": 0.7, "ci_low": 0.1, "ci_high": 1.3}
    rows += [effect_row(**later), effect_row(**later, drill_id="R2", verdict="helps")]
    assert drill_sentences.best_drill(rows, ANGLE, "driver") == (
        f"{best} Next session +0.7° (95% 0.1 to 1.3); helps: better, perhaps by less than matters. 1 other drill also "
        "works."
    )


def test_an_effect_that_cannot_be_given_says_for_which_session() -> None:
    unknown = {"effect": None, "verdict_reason": "no episode has both blocks"}
    assert drill_sentences.effect(effect_row(**unknown), ANGLE) == (
        "Driver attack angle: no effect can be given yet (no episode has both blocks)."
    )
    assert drill_sentences.effect(effect_row(**unknown, horizon="retention"), ANGLE) == (
        "Next session, driver attack angle: no effect can be given yet (no episode has both blocks)."
    )


@pytest.mark.parametrize(
    ("a_week", "said"),
    [(0.4, "less than weekly"), (1.3, "about once a week"), (4.2, "4 times a week"), (24.8, "25 times a week")],
)
def test_how_often_is_said_without_decimals(a_week: float, said: str) -> None:
    assert drill_sentences.often(a_week) == said


def test_no_drill_stands_out_when_none_is_surely_better() -> None:
    rows = [effect_row(verdict="unclear"), effect_row(verdict="wrong way"), effect_row(is_aim=False)]
    assert drill_sentences.best_drill(rows, ANGLE, "driver") == (
        "No drill stands out for driver attack angle: none of 2 is surely better than free practice."
    )


def test_a_single_drill_that_is_not_surely_better_is_named() -> None:
    assert drill_sentences.best_drill([effect_row(verdict="unclear")], ANGLE, "driver") == (
        "No drill stands out for driver attack angle: Rod is not surely better than free practice."
    )


def test_it_is_too_early_when_every_drill_is() -> None:
    assert drill_sentences.best_drill([effect_row(verdict="too early")], ANGLE, "driver") == (
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
    assert drill_sentences.verdict_words(verdict, CARRY) == text


def test_every_verdict_of_the_tables_has_words_and_help() -> None:
    from warehouse.schema.drill_mart import VERDICTS

    assert set(VERDICTS) == set(words.VERDICTS) == set(words.VERDICT_HELP)


def test_the_plain_difference_is_split_from_what_practice_gives() -> None:
    assert drill_sentences.free_practice_gave(effect_row(), ANGLE) == (
        "Before to after, as it looks, the change is +2.6°; free practice alone would have given +0.5°."
    )


def test_a_comparator_with_few_lessons_includes_the_coachs_attention() -> None:
    assert drill_sentences.comparator(effect_row()) == (
        "Compared with 60 stretches of practice alone and 12 lessons without a drill; the effect includes the coach's "
        "attention."
    )


def test_warnings_come_from_stops_first_then_verdict_and_lost_balls() -> None:
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
    stop = {"kind": "aid struck", "stops": 2, "last_on": date(2031, 3, 3)}
    row = effect_row(effect=-1.0, ci_low=-1.5, ci_high=-0.5, verdict="wrong way")
    assert drill_sentences.warnings([stop], [row], [lost], lambda _: ANGLE) == [
        "Stopped 2 times: aid struck, last on 3 March 2031.",
        "Wrong way (same session): it makes worse what it aims at, driver attack angle.",
        "More lost balls: mishits with driver: 6% before, 11% after; +5.0 percentage points beyond free practice "
        "(95% 1.0 to 9.0).",
    ]


def test_responders_stand_beside_luck() -> None:
    assert drill_sentences.responders(effect_row()) == (
        "30% of the students who did it twice or more surely gained more than matters; the same rule would name 5% of "
        "free "
        "practice."
    )
