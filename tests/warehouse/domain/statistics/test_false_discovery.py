"""False discovery control against its paper."""

from __future__ import annotations

import numpy as np
import pytest

from warehouse.domain.statistics.false_discovery import beyond_by_luck, listed_by_luck, q_values

# Benjamini & Hochberg (1995), section 3.2: 15 hypotheses of a thrombolysis trial.
# fmt: off
PUBLISHED = (.0001, .0004, .0019, .0095, .0201, .0278, .0298, .0344, .0459, .3240, .4262, .5719, .6528, .7590, 1.0)
# fmt: on


def test_four_of_the_papers_fifteen_are_rejected_and_bonferroni_rejects_three() -> None:
    assert np.count_nonzero(q_values(PUBLISHED) <= 0.05) == 4
    assert np.count_nonzero(np.array(PUBLISHED) * 15 <= 0.05) == 3


def test_q_values_agree_with_scipy_in_any_order() -> None:
    from scipy.stats import false_discovery_control

    p = np.random.default_rng(3).permutation(PUBLISHED)
    assert q_values(p) == pytest.approx(false_discovery_control(p))


def test_a_missing_p_value_is_no_member_of_the_family() -> None:
    with_gap = q_values([0.01, np.nan, 0.04])
    assert np.isnan(with_gap[1])
    assert with_gap[[0, 2]] == pytest.approx(q_values([0.01, 0.04]))
    assert np.isnan(q_values([np.nan])).all()


def test_luck_alone_lists_five_in_a_hundred_beyond_their_own_limits() -> None:
    assert beyond_by_luck(100) == pytest.approx(5)
    assert listed_by_luck(PUBLISHED) == pytest.approx(0.2)
