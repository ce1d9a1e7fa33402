"""Were past forecasts right as often as they said? Each past episode held against the forecast before it.

Not here: the forecasts themselves (forecast.py).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Codes = NDArray[np.int64]

MIN_EPISODES = 40
"""Past episodes from which an academy's own record moves its intervals."""
WIDEST = 2.0


def earlier(value: Floats, student: Codes, day: Codes) -> tuple[Floats, Floats]:
    """Return for each episode how many of its student's came on earlier days, and their mean (0 without)."""
    order = np.lexsort((day, student))
    v, who, when = value[order], student[order], day[order]
    total = np.concatenate([[0.0], np.cumsum(v)])
    begin = np.searchsorted(who, who, "left")
    # Places are counted up to the first episode of the same student and day: one day's episodes do not tell each other.
    key = who.astype(np.float64) * 1e7 + when
    until = np.searchsorted(key, key, "left")
    n = (until - begin).astype(np.float64)
    mean = np.where(n > 0, (total[until] - total[begin]) / np.maximum(n, 1.0), 0.0)
    count, own = np.empty_like(n), np.empty_like(mean)
    count[order], own[order] = n, mean
    return count, own


def factor(ratios: Floats, share: float) -> float:
    """Return by what half-widths are to be multiplied so that `share` of past outcomes would have been held.

    Parameters
    ----------
    ratios : (n,) distance of each past outcome from its forecast, over the half-width that it was given.

    Notes
    -----
    Split conformal prediction: the ceil((n + 1) share)-th smallest ratio (Papadopoulos et al. 2002; Lei et al. 2018,
    Journal of the American Statistical Association 113, 1094); 1 where there are too few to tell.
    """
    known = np.sort(ratios[np.isfinite(ratios)])
    if known.size < MIN_EPISODES:
        return 1.0
    place = min(int(np.ceil((known.size + 1) * share)), known.size)
    return float(np.clip(known[place - 1], 1 / WIDEST, WIDEST))
