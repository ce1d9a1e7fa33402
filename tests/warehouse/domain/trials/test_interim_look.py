"""Looking at a running trial: always-valid intervals, decisions, harm; what peeking does with and without the rule."""

from __future__ import annotations

from datetime import date
from math import sqrt

import numpy as np
import polars as pl
import pytest

from warehouse.domain.trials import confidence_sequence, interim_look, progress
from warehouse.domain.trials.interim_look import FOUND, GO_ON, HARM, TOO_EARLY, Rule
from warehouse.domain.trials.regression import adjusted


def test_the_mixture_is_the_integral_it_stands_for() -> None:
    # Robbins 1970: the mean over theta ~ N(0, s^2) of the likelihood ratio, by quadrature.
    from scipy.integrate import quad
    from scipy.stats import norm

    for estimate, error, scale in ((0.8, 0.4, 1.0), (-2.0, 0.7, 0.5), (0.0, 0.2, 1.0)):
        ratio = lambda th, e=estimate, v=error, s=scale: norm.pdf(e, th, v) / norm.pdf(e, 0, v) * norm.pdf(th, 0, s)  # noqa: E731
        wanted = quad(ratio, -12, 12, points=[estimate])[0]
        assert float(confidence_sequence.likelihood_ratio(estimate, error, scale)) == pytest.approx(wanted, rel=1e-6)


def test_the_interval_ends_where_the_ratio_reaches_one_over_alpha() -> None:
    held = confidence_sequence.confidence_sequence(0.7, 0.3, 1.0, alpha=0.05)
    for end in held:
        assert float(confidence_sequence.likelihood_ratio(0.7, 0.3, 1.0, null=end)) == pytest.approx(20.0)


def test_the_always_valid_interval_is_wider_than_the_plain_one_but_not_twice() -> None:
    held = confidence_sequence.confidence_sequence(0.0, 0.3, 1.0)
    assert 1.96 * 0.3 < held.high < 2 * 1.96 * 0.3


def test_always_valid_p_values_only_fall() -> None:
    p = confidence_sequence.always_valid_p([0.1, 1.2, 0.4], [0.5, 0.35, 0.3], 1.0)
    assert p[0] == 1.0 and p[2] == p[1] < 0.1


def test_too_many_is_the_integral_it_stands_for() -> None:
    from scipy.integrate import quad

    ratio = lambda q: (q / 0.02) ** 3 * ((1 - q) / 0.98) ** 37 / 0.98  # noqa: E731
    assert confidence_sequence.too_many(3, 40, 0.02) == pytest.approx(quad(ratio, 0.02, 1)[0], rel=1e-6)


def test_stops_at_the_tolerated_rate_seldom_stop_a_drill_however_often_one_counts() -> None:
    rng = np.random.default_rng(1)
    events = np.cumsum(rng.random((600, 150)) < 0.02, axis=1)
    worst = [max(confidence_sequence.too_many(int(e), k + 1, 0.02) for k, e in enumerate(row) if e) if row[-1] else 0
             for row in events]  # fmt: skip
    assert np.mean(np.array(worst) >= 10) <= 0.10


def test_any_pain_pauses_and_many_stops_stop() -> None:
    assert interim_look.safety(0, 0, 20).decision == "go on"
    assert interim_look.safety(1, 0, 60).decision == "pause"
    assert interim_look.safety(0, 5, 30).decision == "stop"


RULE = Rule("obrien-fleming", better=1, matters_from=1.0, students=50)


def test_a_look_goes_on_stops_for_a_difference_or_for_harm() -> None:
    assert interim_look.look(RULE, 0.3, 0.5, 40, 42).decision == GO_ON
    assert interim_look.look(RULE, 2.0, 0.4, 40, 42).decision == FOUND
    assert interim_look.look(RULE, -2.0, 0.4, 40, 42).decision == HARM
    assert interim_look.look(RULE, 2.0, 0.4, 5, 8).decision == TOO_EARLY


def test_where_down_is_better_the_sides_change() -> None:
    down = Rule("pocock", better=-1, matters_from=1.0, students=50)
    assert interim_look.look(down, -2.0, 0.4, 40, 42).decision == FOUND
    assert interim_look.look(down, 2.0, 0.4, 40, 42).decision == HARM


def test_harm_needs_less_than_benefit() -> None:
    good, bad = (interim_look.look(RULE, sign * 2.4, 0.7, 30, 13).decision for sign in (1, -1))
    assert (good, bad) == (GO_ON, HARM)


def test_a_single_look_at_the_end_is_the_plain_test() -> None:
    seen = interim_look.look(RULE, 1.0, 1 / 2.8, 1e6, 50, last=True)
    assert seen.limit == pytest.approx(1.959964, abs=1e-5)
    assert (seen.interval.low, seen.interval.high) == pytest.approx((1 - 1.96 / 2.8, 1 + 1.96 / 2.8), abs=1e-3)


def test_a_look_without_news_since_the_last_is_not_taken() -> None:
    assert interim_look.look(RULE, 2.0, 0.4, 40, 45, earlier=(0.9,)).decision == TOO_EARLY


@pytest.mark.parametrize("wrong", [{"kind": "whenever"}, {"better": 0}, {"students": 2}])
def test_a_rule_that_cannot_be_is_refused(wrong: dict) -> None:
    with pytest.raises(ValueError):
        Rule(**({"kind": "pocock", "better": 1, "matters_from": 1.0, "students": 50} | wrong))


LOOKS = (20, 30, 40, 60, 80)


def peeked(rule: Rule | None, effect: float, trials: int = 300, seed: int = 3) -> tuple[float, float, float]:
    """Share that found a difference (either side), share stopped for harm, share whose intervals held at every look."""
    from scipy.special import stdtrit

    rng = np.random.default_rng(seed)
    t = np.argsort(rng.random((trials, 40, 2)), axis=-1).reshape(trials, 80)
    x = rng.normal(size=(trials, 80))
    y = x + effect * t + rng.normal(size=(trials, 80))
    fits = [adjusted(y[:, :n], t[:, :n], x[:, :n, None]) for n in LOOKS]
    found, harmed, held = np.zeros(trials, bool), np.zeros(trials, bool), np.ones(trials, bool)
    for i in range(trials):
        earlier: tuple[float, ...] = ()
        for k, fit in enumerate(fits):
            estimate, error = float(fit.estimate[i]), float(fit.hc2[i])
            if rule is None:
                half = float(stdtrit(fit.df, 0.975)) * error
                found[i] |= abs(estimate) > half
                held[i] &= abs(estimate - effect) <= half
                continue
            seen = interim_look.look(rule, estimate, error, fit.df, LOOKS[k], earlier, last=k == len(LOOKS) - 1)
            held[i] &= seen.interval.low <= effect <= seen.interval.high
            found[i] |= not seen.interval.low <= 0 <= seen.interval.high
            harmed[i] |= seen.decision == HARM
            earlier = (*earlier, seen.information) if seen.decision != TOO_EARLY else earlier
            if seen.decision in (FOUND, HARM):
                break
    return float(found.mean()), float(harmed.mean()), float(held.mean())


def test_peeking_without_a_rule_finds_what_is_not_there_twice_as_often_as_promised() -> None:
    found, _, held = peeked(None, 0.0)
    assert found > 0.10 and held < 0.90


@pytest.mark.parametrize("kind", interim_look.RULES)
def test_peeking_by_the_rule_keeps_the_promise(kind: str) -> None:
    rule = Rule(kind, better=1, matters_from=0.5, students=LOOKS[-1])
    found, harmed, held = peeked(rule, 0.0)
    # 300 trials: three binomial errors are .038; harm is called at 5% a side beside the rule's own.
    assert found <= 0.088
    assert harmed <= 0.075 + 0.046
    assert held >= 0.912


def test_a_real_difference_is_still_found_and_a_real_harm_is_stopped() -> None:
    rule = Rule("obrien-fleming", better=1, matters_from=0.5, students=LOOKS[-1])
    assert peeked(rule, 0.8, trials=150)[0] > 0.88
    assert peeked(rule, -0.8, trials=150)[1] > 0.90


def test_standardised_differences_follow_their_formulas() -> None:
    # Austin 2009, Stat Med 28:3083: (.5 - .3) / sqrt((.25 + .21)/2) for shares of .5 and .3.
    one, other = np.repeat([1.0, 0.0], [50, 50]), np.repeat([1.0, 0.0], [30, 70])
    assert progress.standardised_difference(one, other) == pytest.approx(0.2 / sqrt(0.23))
    assert progress.standardised_difference([1.0, 2, 3], [3.0, 4, 5]) == pytest.approx(-2.0)
    assert np.isnan(progress.standardised_difference([1.0], [2.0, 3.0]))


def test_balance_names_each_arm_and_leaves_missing_out() -> None:
    rows = pl.DataFrame({"arm": ["a", "a", "a", "b", "b", "b"], "handicap": [10.0, 20.0, None, 12.0, 18.0, 15.0]})
    got = progress.balance(rows, ["handicap"], "b").row(0, named=True)
    assert (got["students"], got["mean"], got["reference_mean"], got["standardised_difference"]) == (2, 15, 15, 0)


def test_recruitment_is_counted_by_week_against_an_even_pace() -> None:
    begun = date(2026, 3, 2)
    days = [date(2026, 3, 2), date(2026, 3, 8), date(2026, 3, 9), date(2026, 3, 20), date(2026, 4, 1)]
    rows = progress.recruitment(days, begun, date(2026, 3, 22), students=20, weeks=10)
    assert rows["entered"].to_list() == [2, 1, 1] and rows["entered_so_far"].to_list() == [2, 3, 4]
    assert rows["planned_so_far"].to_list() == pytest.approx([2.0, 4.0, 20 / 7 * 2])


def test_the_pace_comes_with_its_doubt() -> None:
    assert progress.weeks_left(0, 3, 20) is None
    low, high = progress.weeks_left(10, 5, 20) or (0, 0)
    # Garwood's 80% limits of a count of 10: 6.22 and 15.41 (table of exact Poisson limits; from memory).
    assert (low, high) == pytest.approx((10 * 5 / 15.41, 10 * 5 / 6.22), rel=1e-3)
    assert "full in 4 to 9 weeks" in progress.pace_sentence(10, 20, 5)
    assert progress.pace_sentence(0, 20, 5) == "Nobody of 20 has been entered yet."
    assert progress.pace_sentence(7, 20, 0).startswith("7 of 20 students entered; on the first day")


def test_what_became_of_those_drawn_is_counted_by_arm() -> None:
    rows = pl.DataFrame(
        {
            "arm": ["D01", "D01", "D01", "D02"], "done": ["D01", "D02", None, "D02"],
            "declined": [False, True, False, False], "followed": [True, True, False, True],
        }
    )  # fmt: skip
    one, other = progress.arms(rows).iter_rows(named=True)
    assert (one["drawn"], one["done_as_drawn"], one["done_other"], one["not_done"]) == (3, 1, 1, 1)
    assert (one["declined_after_draw"], one["missing"], other["adherence"]) == (1, 1, 1.0)
