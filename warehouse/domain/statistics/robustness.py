"""How strong an unmeasured reason for choosing a drill would have to be to explain its effect away."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def robustness_value(t: ArrayLike, df: ArrayLike, alpha: float | None = None) -> NDArray[np.float64]:
    """Robustness value: share of variance of both choice and outcome (0 to 1) that would bring the effect to nothing.

    Parameters
    ----------
    t : effect over its standard error. df : residual degrees of freedom of that comparison.
    alpha : when given, the share that would make the effect no longer differ from 0 at that level.

    Notes
    -----
    RV = (sqrt(f^4 + 4 f^2) - f^2) / 2, f = |t| / sqrt(df), less the critical |t| / sqrt(df - 1) when alpha is given:
    Cinelli & Hazlett (2020), Journal of the Royal Statistical Society B 82, 39, section 4.
    """
    t, df = np.asarray(t, dtype=np.float64), np.asarray(df, dtype=np.float64)
    f = np.abs(t) / np.sqrt(np.where(df > 0, df, np.nan))
    if alpha is not None:
        from scipy.special import stdtrit

        lower = np.where(df > 1, df - 1, np.nan)
        f = np.maximum(f - stdtrit(lower, 1 - alpha / 2) / np.sqrt(lower), 0.0)
    return np.asarray(0.5 * (np.sqrt(f**4 + 4 * f**2) - f**2))
