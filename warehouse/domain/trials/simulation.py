"""Trials drawn from variance components and read as they will be read: power and false alarms counted, not assumed.

Not here: the formula (trial_power).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from warehouse.domain.trials.power import Design, Spread
from warehouse.domain.trials.regression import adjusted, contrast

Floats = NDArray[np.float64]
_BATCH = 250


class Counted(NamedTuple):
    """Shares over `trials` simulated trials: found a difference; interval held the true one. `error` of power."""

    power: float
    covered: float
    mean_estimate: float
    error: float
    trials: int


def _blocks(rng: np.random.Generator, shape: tuple[int, ...], design: Design, spread: Spread, day: Floats) -> Floats:
    """Mean over a student's episodes of blocks with their shots' noise; `day` (..., episodes) is what they share."""
    noise = np.sqrt(spread.within / design.shots + spread.drift)
    return (day + noise * rng.normal(size=shape)).mean(-1)


def _period(rng: np.random.Generator, trials: int, students: int, design: Design, spread: Spread) -> tuple[Floats, ...]:
    """Mean block before and mean outcome of each student with one drill, without level and effect: (trials, n)."""
    shape = (trials, students, design.episodes)
    day = np.sqrt(spread.between_sessions) * rng.normal(size=shape)
    later = day if design.horizon == "transfer" else np.sqrt(spread.between_sessions) * rng.normal(size=shape)
    return _blocks(rng, shape, design, spread, day), _blocks(rng, shape, design, spread, later)


def _parallel(
    rng: np.random.Generator, trials: int, students: int, effect: float, design: Design, spread: Spread
) -> tuple[Floats, Floats, float]:
    # Only the two arms compared are simulated; the others leave them alone.
    entered = max(round(2 * students / design.arms), 4)
    kept = max(round(entered * design.followed), 4)
    treated = np.argsort(rng.random((trials, kept)), axis=-1) % 2
    level = np.sqrt(spread.between_students) * rng.normal(size=(trials, kept))
    before, after = _period(rng, trials, kept, design, spread)
    response = effect + np.sqrt(spread.response) * rng.normal(size=(trials, kept))
    fit = adjusted(level + after + treated * response, treated, (level + before)[..., None])
    return fit.estimate, fit.hc2, fit.df


def _crossover(
    rng: np.random.Generator, trials: int, students: int, effect: float, design: Design, spread: Spread
) -> tuple[Floats, Floats, float]:
    kept = max(round(students * design.followed), 4)
    first, second = (_period(rng, trials, kept, design, spread) for _ in range(2))
    order = np.argsort(rng.random((trials, kept)), axis=-1) % 2 - 0.5
    response = effect + np.sqrt(spread.response) * rng.normal(size=(trials, kept))
    before, after = first[0] - second[0], first[1] - second[1] + response
    # The difference of the blocks before is expected to be 0, so it is not centred: centring would undo the adjustment.
    fit = contrast(np.stack([np.ones_like(order), order, before], axis=-1), after, 0)
    return fit.estimate, fit.hc2, fit.df


def simulate(
    effect: float, students: int, design: Design, spread: Spread, trials: int = 2000, seed: int = 0
) -> Counted:
    """Draw trials with a true difference of `effect` and count what they find.

    Returns
    -------
    Counted
        `error` is the binomial standard error of `power`. Read by the adjusted estimate with HC2 errors, as the trial
        itself will be; with more than two arms one comparison, at its share of alpha.
    """
    from scipy.special import stdtrit

    rng = np.random.default_rng(seed)
    run = _crossover if design.kind == "crossover" else _parallel
    alpha = design.alpha / (design.arms - 1)
    found = held = total = 0.0
    for start in range(0, trials, _BATCH):
        estimate, error, df = run(rng, min(_BATCH, trials - start), students, effect, design, spread)
        half = float(stdtrit(df, 1 - alpha / 2)) * error
        found += float((np.abs(estimate) > half).sum())
        held += float((np.abs(estimate - effect) <= half).sum())
        total += float(estimate.sum())
    share = found / trials
    return Counted(share, held / trials, total / trials, float(np.sqrt(share * (1 - share) / trials)), trials)
