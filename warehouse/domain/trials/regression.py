"""Least squares for drawn groups: one contrast with errors that do not assume equal variances, many fits at once.

Not here: what is compared (trial_estimate), permutation (trial_permutation).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


class Contrast(NamedTuple):
    """One contrast of a fit, shape (...): estimate, its HC2 and HC3 standard errors (unit of y), degrees of freedom."""

    estimate: Floats
    hc2: Floats
    hc3: Floats
    df: float


def contrast(design: ArrayLike, y: ArrayLike, which: int) -> Contrast:
    """Fit y on a design by least squares and read one coefficient.

    Parameters
    ----------
    design : (..., n, p). y : (..., n). which : the column whose coefficient is read.

    Returns
    -------
    Contrast
        HC2 divides each squared residual by 1 - h, HC3 by (1 - h)^2, h the leverage (MacKinnon & White 1985, J
        Econometrics 29:305). `df` after Bell & McCaffrey (2002, Survey Methodology 28:169) with every student a cluster
        of one, for the first fit of a batch; never more than n - p.
    """
    x, target = np.asarray(design, dtype=np.float64), np.asarray(y, dtype=np.float64)
    across = np.swapaxes(x, -1, -2)
    bread = np.linalg.pinv(across @ x, hermitian=True)
    beta = bread @ (across @ target[..., None])
    left = target - (x @ beta)[..., 0]
    spread = x @ bread
    room = np.maximum(1.0 - (spread * x).sum(-1), 1e-9)
    weight = spread[..., which]
    hc2 = np.sqrt((weight**2 * left**2 / room).sum(-1))
    hc3 = np.sqrt((weight**2 * left**2 / room**2).sum(-1))
    one = (0,) * (x.ndim - 2)
    return Contrast(beta[..., which, 0], hc2, hc3, _df(x[one], bread[one], weight[one], room[one]))


def _df(x: Floats, bread: Floats, weight: Floats, room: Floats) -> float:
    """Satterthwaite's degrees of freedom of the HC2 variance where all errors vary alike."""
    scale = np.sqrt(weight**2 / room)
    middle = scale[:, None] * (np.eye(x.shape[0]) - x @ bread @ x.T) * scale
    size = float((middle**2).sum())
    most = float(x.shape[0] - x.shape[1])
    return min(float(np.trace(middle)) ** 2 / size, most) if size > 0 else most


def adjusted(y: ArrayLike, treated: ArrayLike, covariates: ArrayLike, fixed: ArrayLike | None = None) -> Contrast:
    """Difference between two drawn groups, adjusted by regression with interactions.

    Parameters
    ----------
    y : (..., n) outcome. treated : (..., n) 1 for the group of interest, 0 for the other. covariates : (..., n, q)
    measured before the draw, q may be 0. fixed : (..., n, r) columns that enter without interaction (small strata).

    Notes
    -----
    y on 1, t, x - mean(x), t (x - mean(x)): its coefficient of t estimates the mean effect over all drawn, never less
    precise in large samples than the plain difference, whatever the truth of the model (Lin 2013, Ann Appl Stat 7:295).
    """
    target = np.asarray(y, dtype=np.float64)
    t = np.broadcast_to(np.asarray(treated, dtype=np.float64), target.shape)[..., None]
    parts = [np.ones_like(t), t]
    for given, crossed in ((covariates, True), (fixed, False)):
        if given is None:
            continue
        x = np.asarray(given, dtype=np.float64)
        x = np.broadcast_to(x - x.mean(axis=-2, keepdims=True), (*target.shape, x.shape[-1]))
        parts += [x, t * x] if crossed else [x]
    return contrast(np.concatenate(parts, axis=-1), target, 1)
