"""Many verdicts at once: how many of them are luck.

Not here: which rows form a family (whoever calls decides, and says so).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def q_values(p_values: ArrayLike) -> NDArray[np.float64]:
    """Adjust p-values for the false discovery rate: Benjamini & Hochberg (1995, J R Stat Soc B 57:289).

    Parameters
    ----------
    p_values : array_like (n,)
        One family; nan where there is none.

    Returns
    -------
    array (n,)
        Reject q <= rate to hold the false discovery rate at that rate; nan where p is nan (not in the family).
    """
    p = np.asarray(p_values, dtype=float)
    q = np.full(p.shape, np.nan)
    present = np.flatnonzero(~np.isnan(p))
    if not present.size:
        return q
    order = present[np.argsort(p[present], kind="stable")]
    stepped = p[order] * order.size / np.arange(1, order.size + 1)
    q[order] = np.minimum(np.minimum.accumulate(stepped[::-1])[::-1], 1.0)
    return q


def listed_by_luck(p_values: ArrayLike, rate: float = 0.05) -> float:
    """Return how many of those listed at this false discovery rate luck alone is expected to put there, at most.

    The Benjamini-Hochberg bound: rate times the number listed.
    """
    q = q_values(p_values)
    return rate * int(np.count_nonzero(q <= rate))


def beyond_by_luck(people: int, confidence: float = 0.95) -> float:
    """Return how many of `people` would lie beyond a two-sided interval of this confidence had nobody changed.

    For lists made by each person's own interval without control over the family: what the list must be read against.
    """
    return people * (1 - confidence)
