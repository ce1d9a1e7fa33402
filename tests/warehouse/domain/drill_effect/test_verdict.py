"""Verdicts: the first rule that matches, gates with what is missing, certainty step by step."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from warehouse.domain.drill_effect import verdict
from warehouse.domain.drill_effect.verdict import Doubt, Evidence

CLEAR = Evidence(
    episodes=60, students=30, coaches=4, df=29, weeks=10, effect=2.0, error=0.2, check_effect=1.9, check_error=0.2,
    q_value=0.001, better=1, matters_from=1,
)  # fmt: skip
CALM = Doubt(drawn_share=0.0, followed_share=None, unseen_levels=False)


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({}, "works"),
        ({"effect": 1.2, "check_effect": 1.1}, "helps"),
        ({"check_effect": 1.2}, "helps"),
        ({"better": -1}, "wrong way"),
        ({"effect": 0.1, "check_effect": 0.1, "q_value": 0.8}, "no meaningful effect"),
        ({"effect": 0.9, "check_effect": 0.3, "error": 0.3, "check_error": 0.4, "q_value": 0.2},
         "depends on assumptions"),
        ({"effect": 2.0, "check_effect": -2.0, "q_value": 1.0}, "depends on assumptions"),
        ({"effect": 0.5, "check_effect": 0.5, "error": 0.9, "check_error": 0.9, "q_value": 0.7}, "unclear"),
        ({"effect": 1.0, "check_effect": 1.0, "q_value": 0.06}, "unclear"),
        ({"students": 9}, "too early"),
        ({"episodes": 19}, "too early"),
        ({"df": 7.9}, "too early"),
        ({"coaches": 1}, "too early"),
        ({"better": 0}, None),
    ],
)  # fmt: skip
def test_the_first_rule_that_matches_gives_the_verdict(change: dict, expected: str | None) -> None:
    assert verdict.judge(replace(CLEAR, **change))[0] == expected


def test_a_lower_limit_exactly_at_the_smallest_change_that_matters_works() -> None:
    low, _ = verdict.interval(2.0, 0.2, 29)
    assert verdict.judge(replace(CLEAR, check_effect=2.0, matters_from=low))[0] == "works"
    assert verdict.judge(replace(CLEAR, check_effect=2.0, matters_from=low + 1e-9))[0] == "helps"


def test_too_early_says_how_much_is_missing_and_when_it_would_be_there() -> None:
    word, reason = verdict.judge(replace(CLEAR, students=7, episodes=13, df=6, weeks=6))
    assert word == "too early"
    # 3 students are missing at 7 in 6 weeks, 7 episodes at 13 in 6 weeks: the slower takes 3.2 weeks.
    assert reason == "7 of 10 students, 13 of 20 episodes, about 4 weeks at this pace"


def test_one_coach_only_is_said_to_need_another_coach_and_not_more_weeks() -> None:
    reason = verdict.judge(replace(CLEAR, coaches=1))[1]
    assert reason == "one coach only: waiting will not help, a second coach would"


def test_a_few_students_who_did_most_of_it_do_not_pass_the_gate() -> None:
    assert "a few students did most of it" in verdict.judge(replace(CLEAR, df=4))[1]


def test_p_is_the_larger_of_two_that_agree_and_one_where_they_disagree() -> None:
    from scipy.stats import t

    assert verdict.combined_p((1.0, 0.5), (0.8, 0.5), 20) == pytest.approx(2 * t.sf(1.6, 20))
    assert verdict.combined_p((1.0, 0.5), (-0.8, 0.5), 20) == 1
    assert np.isnan(verdict.combined_p((np.nan, 0.5), (0.8, 0.5), 20))


def test_certainty_starts_by_how_drills_were_chosen_and_steps_down_for_each_doubt() -> None:
    assert verdict.certainty(CLEAR, CALM)[0] == "moderate"
    assert verdict.certainty(CLEAR, replace(CALM, drawn_share=0.5))[0] == "high"
    assert verdict.certainty(replace(CLEAR, students=19), CALM)[0] == "low"
    assert verdict.certainty(replace(CLEAR, error=0.6), CALM)[0] == "low"
    assert verdict.certainty(CLEAR, replace(CALM, followed_share=0.59))[0] == "low"
    assert verdict.certainty(CLEAR, replace(CALM, followed_share=0.60))[0] == "moderate"
    assert verdict.certainty(replace(CLEAR, check_effect=0.9), CALM)[0] == "low"
    word, reason = verdict.certainty(replace(CLEAR, students=12), replace(CALM, unseen_levels=True))
    assert word == "very low"
    assert "only 12 students" in reason
    assert "mean level" in reason


def test_certainty_never_falls_below_very_low() -> None:
    worst = replace(CLEAR, students=3, error=9.0, check_effect=-5.0)
    assert verdict.certainty(worst, Doubt(0.0, 0.1, True))[0] == "very low"
