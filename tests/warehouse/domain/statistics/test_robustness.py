"""The robustness value against its paper."""

from __future__ import annotations

import numpy as np
import pytest

from warehouse.domain.statistics.robustness import robustness_value


def test_the_darfur_example_comes_out_as_printed() -> None:
    # Cinelli & Hazlett (2020), section 5: estimate .097, standard error .023 (t = 4.18), 783 degrees of freedom;
    # RV 13.9%, and 7.6% for the 5% level.
    assert robustness_value(4.18, 783) == pytest.approx(0.139, abs=5e-4)
    assert robustness_value(4.18, 783, alpha=0.05) == pytest.approx(0.076, abs=5e-4)


def test_no_effect_needs_no_confounder_and_no_error_has_no_value() -> None:
    assert robustness_value(0.0, 100) == 0
    assert robustness_value(1.0, 100, alpha=0.05) == 0
    assert np.isnan(robustness_value(np.nan, 100))
    assert np.isnan(robustness_value(2.0, 0))


def test_a_confounder_as_strong_as_the_robustness_value_takes_the_whole_effect() -> None:
    # Bias in standard errors: sqrt(R2y R2d / (1 - R2d) df) (their eq. 12 with both shares equal to the value).
    t, df = 3.3, 60
    value = float(robustness_value(t, df))
    assert np.sqrt(value * value / (1 - value) * df) == pytest.approx(t)
