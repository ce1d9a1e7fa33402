"""Randomisation tests: how often lots alone, drawn again as they were drawn, would show a difference this large.

Not here: the estimate and its interval (trial_estimate).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from warehouse.domain.trials.regression import adjusted

Floats = NDArray[np.float64]

REDRAWS = 1999
_BATCH = 250
EXACT_UP_TO = 16
"""Pairs whose every exchange is counted: 2^16 of them."""


def redrawn(block: ArrayLike, treated: ArrayLike, draws: int, seed: int) -> NDArray[np.int64]:
    """Shuffle lots within blocks (strata), shape (draws, n): what other draws would have given."""
    label, t = np.asarray(block), np.asarray(treated, dtype=np.int64)
    group = np.unique(label, return_inverse=True)[1]
    slots = np.argsort(group, kind="stable")
    mixed = np.argsort(group + np.random.default_rng(seed).random((draws, t.size)), axis=-1)
    # Row by row, the students of each block in random order take the block's lots in their order.
    out = np.empty((draws, t.size), dtype=np.int64)
    np.put_along_axis(out, mixed, np.broadcast_to(t[slots], out.shape), axis=-1)
    return out


def randomisation_p(
    y: ArrayLike, treated: ArrayLike, covariates: ArrayLike, block: ArrayLike, draws: int = REDRAWS, seed: int = 0
) -> float:
    """Two-sided randomisation p-value of no effect on anybody.

    Parameters
    ----------
    y : (n,) outcome. treated : (n,) 1 or 0. covariates : (n, q) from before the draw. block : (n,) label of the block
        (or stratum) within which lots were drawn.

    Notes
    -----
    Statistic: the adjusted difference over its HC2 error, which keeps the test near its level also where effects differ
    but cancel (Wu & Ding 2021, J Am Stat Assoc 116:1898). (1 + as large or larger)/(1 + draws).
    """
    target, x, t = (np.asarray(v, dtype=np.float64) for v in (y, covariates, treated))
    seen = _statistic(target[None], t[None], x)[0]
    larger, draws_left = 0, draws
    while draws_left > 0:
        size = min(_BATCH, draws_left)
        other = _statistic(np.broadcast_to(target, (size, t.size)), redrawn(block, t, size, seed + draws_left), x)
        larger += int((other >= seen * (1 - 1e-9)).sum())  # the mirrored draw ties but for rounding
        draws_left -= size
    return (1 + larger) / (1 + draws)


def _statistic(y: Floats, treated: ArrayLike, x: Floats) -> Floats:
    fit = adjusted(y, treated, x)
    return np.abs(fit.estimate) / np.maximum(fit.hc2, 1e-12)


def sign_flip_p(differences: ArrayLike, draws: int = REDRAWS, seed: int = 0) -> float:
    """Two-sided randomisation p-value of a crossover's within-student differences (Fisher 1935, §21).

    Every exchange of the two drills is counted up to 16 students, `draws` of them beyond.
    """
    d = np.asarray(differences, dtype=np.float64)
    d = d[np.isfinite(d)]
    if d.size == 0:
        return 1.0
    seen = abs(float(d.sum())) - 1e-9 * float(np.abs(d).sum())
    if d.size <= EXACT_UP_TO:
        sums = np.zeros(1)
        for value in d:
            sums = np.concatenate([sums + value, sums - value])
        return float((np.abs(sums) >= seen).mean())
    flips = 2 * np.random.default_rng(seed).integers(0, 2, size=(draws, d.size)) - 1
    return float((1 + (np.abs(flips @ d) >= seen).sum()) / (1 + draws))


def orders_p(differences: ArrayLike, first: ArrayLike, block: ArrayLike, draws: int = REDRAWS, seed: int = 0) -> float:
    """Two-sided randomisation p-value of a crossover whose orders were drawn in blocks.

    Parameters
    ----------
    differences : (n,) one drill less the other within a student. first : (n,) 1 where the one came first, else 0.
    block : (n,) label of the block (or stratum) within which orders were drawn.

    Notes
    -----
    Another order turns a student's difference; orders are drawn again within blocks, so as many students begin with
    either drill as did. Independent turns (`sign_flip_p`) would forget that the blocks were even.
    """
    d, order = np.asarray(differences, dtype=np.float64), np.asarray(first, dtype=np.int64)
    by_period = d * (2 * order - 1)
    sums = (2 * redrawn(block, order, draws, seed) - 1) @ by_period
    return float((1 + (np.abs(sums) >= abs(float(d.sum())) - 1e-9 * float(np.abs(d).sum())).sum()) / (1 + draws))
