"""Shots of many blocks at once, and the three numbers each block leaves.

Not here: what the golfer's level is (`academies`).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tests.simulation.scenario import Scenario
from warehouse.domain.statistics import block_summary

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Hit(NamedTuple):
    """`shots` (n,), `centre`, `variance`, `spread` (n, m); `narrower` (n, m) log spread with less without the drill."""

    shots: Ints
    centre: Floats
    variance: Floats
    spread: Floats
    narrower: Floats


def hit(
    rng: np.random.Generator,
    scenario: Scenario,
    level: Floats,
    warm_up: Floats,
    shot: Floats,
    first: Ints,
    count: Ints,
    log_scale: Floats | None = None,
) -> Hit:
    """Hit one block each: exponential warm-up, correlated heavy-tailed shots, some of them wild.

    Parameters
    ----------
    level, warm_up, shot : (n, m) level once warm, warm-up still to come at shot 0, shot-to-shot scale.
    first : (n,) number of the block's first shot in the session; count : (n,) shots in the block.
    log_scale : (n, m) what a drill did to the scatter, in logs.
    """
    n, m = level.shape
    block = np.repeat(np.arange(n), count)
    position = np.arange(block.size) - np.repeat(np.cumsum(count) - count, count)
    noise = _noise(rng, scenario, block.size, m) * shot[block]
    cold = -warm_up[block] * np.exp(-(first[block] + position) / scenario.warm_up_shots)[:, None]
    steady = level[block] + cold
    scale = 1.0 if log_scale is None else np.exp(log_scale)[block]
    values = steady + scale * noise
    found = [block_summary.summarise(values[:, j], block, n) for j in range(m)]
    spread = np.stack([one.spread for one in found], 1)
    narrower = np.zeros((n, m))
    if log_scale is not None:
        without = np.stack([block_summary.summarise((steady + noise)[:, j], block, n).spread for j in range(m)], 1)
        with np.errstate(divide="ignore", invalid="ignore"):
            narrower = np.log(spread) - np.log(without)
    return Hit(
        count,
        np.stack([one.centre for one in found], 1),
        np.stack([one.variance for one in found], 1),
        spread,
        narrower,
    )


def _noise(rng: np.random.Generator, scenario: Scenario, n: int, m: int) -> Floats:
    """Unit-scale shot noise: Student t, capped at eight, with contamination and correlation between neighbours."""
    fresh = np.clip(rng.standard_t(scenario.tail, (n, m)), -8, 8) * np.sqrt(max(1 - 2 / scenario.tail, 0.4))
    fresh = fresh * np.where(rng.random((n, 1)) < scenario.contamination, 4.0, 1.0)
    if not scenario.serial or n < 2:
        return fresh
    carried = fresh.copy()
    carried[1:] = scenario.serial * fresh[:-1] + np.sqrt(1 - scenario.serial**2) * fresh[1:]
    return carried
