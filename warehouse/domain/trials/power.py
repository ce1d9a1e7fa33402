"""How many students, episodes and weeks a trial needs: by formula, from an academy's own variance components.

The student is the unit. Not here: the same by simulation (trial_simulation), who may take part (trial_draw).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, inf, isfinite, sqrt
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import ArrayLike

KINDS = ("parallel", "crossover")
HORIZONS = ("transfer", "retention")
POWER = 0.80
MOST_STUDENTS = 100_000.0

CURVE: dict[str, Any] = {
    "students": pl.Int64, "power": pl.Float64, "detectable": pl.Float64, "half_interval": pl.Float64,
    "weeks": pl.Float64,
}  # fmt: skip


@dataclass(frozen=True)
class Spread:
    """Variances (unit of the metric, squared): shot to shot, between a student's sessions, between students.

    `response` between students in what the drill does to them (crossover: in the difference of two drills); `drift`
    between two blocks of one session beyond their shots.
    """

    within: float
    between_sessions: float
    between_students: float
    response: float = 0.0
    drift: float = 0.0


@dataclass(frozen=True)
class Design:
    """What is drawn and measured.

    `kind` parallel: each student has one drill; crossover: each has all, in an order drawn. `episodes` a student does
    of each drill; `shots` of a block; `followed` share of students whose outcome is measured; `alpha` two-sided, shared
    among arms - 1 comparisons with the first arm.
    """

    kind: str = "parallel"
    horizon: str = "transfer"
    arms: int = 2
    episodes: int = 1
    shots: float = 15.0
    followed: float = 1.0
    alpha: float = 0.05

    def __post_init__(self) -> None:
        """Refuse a design that cannot be."""
        if self.kind not in KINDS or self.horizon not in HORIZONS:
            raise ValueError(f"kind is one of {KINDS}, horizon one of {HORIZONS}")
        if self.arms < 2 or self.episodes < 1 or self.shots < 1 or not 0 < self.followed <= 1:
            raise ValueError("a trial has two arms or more, an episode, a shot, and a share followed above 0")


def residual_variance(design: Design, spread: Spread) -> float:
    """Variance of a student's mean outcome (crossover: of one drill's) once the mean block before is adjusted for.

    Notes
    -----
    Block before L + d + e, after L + d + e', next session's L + d' + e''; L between students, d between sessions, e
    shots. The best linear predictor leaves V - C^2/V, V the variance of a mean of `episodes` blocks, C the covariance
    of before and outcome: tau^2 + s_b^2/k in the same session, tau^2 for the next. A crossover's L cancels.
    """
    level = 0.0 if design.kind == "crossover" else spread.between_students
    noise = spread.within / design.shots + spread.drift
    whole = level + (spread.between_sessions + noise) / design.episodes
    shared = level + (spread.between_sessions / design.episodes if design.horizon == "transfer" else 0.0)
    return whole - shared**2 / whole if whole > 0 else 0.0


def error_variance(students: float, design: Design, spread: Spread) -> float:
    """Variance of the estimated difference of two drills, `students` entered in all arms together.

    With the chance imbalance of the block before, which costs 1 + 1/(df - 1) where its slope is estimated too: the mean
    of n xbar^2 / Sxx for normal blocks, elementary.
    """
    kept = students * design.followed
    whole = 2.0 * residual_variance(design, spread) + spread.response
    imbalance = 1.0 + 1.0 / max(degrees_of_freedom(students, design) - 1.0, 1.0)
    return imbalance * whole / (kept if design.kind == "crossover" else kept / design.arms)


def degrees_of_freedom(students: float, design: Design) -> float:
    """What is left after the groups (crossover: orders) and one covariate."""
    kept = students * design.followed
    return kept - 3.0 if design.kind == "crossover" else 2.0 * kept / design.arms - 3.0


def t_power(effect: float, error: float, df: float, alpha: float = 0.05) -> float:
    """Power of a two-sided t test: noncentral t (Cohen 1988), both tails; 0 without degrees of freedom."""
    from scipy.special import stdtrit

    if df < 1:
        return 0.0
    if error <= 0:
        return 1.0 if effect else alpha
    limit, shift = float(stdtrit(df, 1 - alpha / 2)), abs(effect) / error
    return float(min(max(1.0 - _nct(df, shift, limit) + _nct(df, shift, -limit), 0.0), 1.0))


def _nct(df: float, shift: float, at: float) -> float:
    """Noncentral t distribution; where the library's series gives up (large df), Johnson & Welch's normal form."""
    from scipy.special import nctdtr, ndtr

    chance = float(nctdtr(df, shift, at))
    if isfinite(chance):
        return chance
    return float(ndtr((at * (1 - 1 / (4 * df)) - shift) / sqrt(1 + at**2 / (2 * df))))


def two_sample_power(per_group: float, standardised: float, alpha: float = 0.05) -> float:
    """Power of the plain two-sample t test, for checks: Cohen (1988), table 2.3."""
    return t_power(standardised, sqrt(2.0 / per_group), 2.0 * per_group - 2.0, alpha)


def _solve(power_at: Any, wanted: float, low: float) -> float:
    from scipy.optimize import brentq

    if power_at(MOST_STUDENTS) < wanted:
        return inf
    return low if power_at(low) >= wanted else float(brentq(lambda n: power_at(n) - wanted, low, MOST_STUDENTS))


def two_sample_size(standardised: float, power: float = POWER, alpha: float = 0.05) -> float:
    """Return the size a group of the plain two-sample t test, not rounded."""
    return _solve(lambda n: two_sample_power(n, standardised, alpha), power, 2.0)


def power(effect: float, students: float, design: Design, spread: Spread) -> float:
    """Chance that the trial finds a difference of `effect` (metric's unit) between the first arm and another."""
    alpha = design.alpha / (design.arms - 1)
    error = sqrt(error_variance(students, design, spread))
    return t_power(effect, error, degrees_of_freedom(students, design), alpha)


def students_needed(
    effect: float, design: Design, spread: Spread, wanted: float = POWER, inflation: float = 1.0
) -> float:
    """Students to enter in all arms together, rounded up to whole blocks; inf where no number would do.

    `inflation`: what interim looks cost (`trial_boundary.inflation`); 1 without looks.
    """
    if effect == 0:
        return inf
    # From one degree of freedom on, so that the search starts where there is a test.
    least = 4.0 * (design.arms / 2.0 if design.kind == "parallel" else 1.0) / design.followed
    exact = _solve(lambda n: power(effect, n, design, spread), wanted, least)
    unit = design.arms
    return float(unit * ceil(exact * inflation / unit - 1e-9)) if exact < inf else inf


def detectable(students: float, design: Design, spread: Spread, wanted: float = POWER) -> float:
    """Return the smallest difference that `students` would find with the wanted power, unit of the metric."""
    from scipy.optimize import brentq

    if degrees_of_freedom(students, design) < 1:
        return inf
    error = sqrt(error_variance(students, design, spread))
    if error == 0:
        return 0.0
    top = error
    while power(top, students, design, spread) < wanted:
        top *= 2.0
    return float(brentq(lambda d: power(d, students, design, spread) - wanted, 0.0, top))


def weeks_needed(students: float, visits_per_week: ArrayLike, design: Design, agree: float = 0.7) -> float:
    """Weeks until that many have done all their episodes, one a visit; inf where there are too few candidates.

    Parameters
    ----------
    visits_per_week : (candidates,) mean visits of each who may take part, from the academy's own sessions.
    agree : share of those asked who take part.

    Notes
    -----
    Visits as a Poisson process: the k-th visit has come by week t with probability P(k, v t), the regularised
    incomplete gamma function. Retention needs one visit more.
    """
    from scipy.optimize import brentq
    from scipy.special import gammainc

    rate = np.asarray(visits_per_week, dtype=np.float64)
    visits = design.episodes * (design.arms if design.kind == "crossover" else 1) + (design.horizon == "retention")
    done = lambda week: agree * float(gammainc(visits, rate * week).sum()) - students  # noqa: E731
    most = 520.0
    return float(brentq(done, 0.0, most)) if done(most) >= 0 else inf


def curve(
    effect: float, design: Design, spread: Spread, students: ArrayLike, visits_per_week: ArrayLike | None = None,
    agree: float = 0.7, inflation: float = 1.0,
) -> pl.DataFrame:  # fmt: skip
    """Power against students: `CURVE`, one row a number of students.

    `inflation`: looks take that much of what the students tell (as in students_needed), and none of their weeks.

    `detectable` at 80%, `half_interval` half the expected 95% interval (unit of the metric), `weeks` null where no
    visit rates are given or they cannot be had.
    """
    from scipy.special import stdtrit

    rows = []
    for n in np.asarray(students, dtype=np.float64):
        tells = n / inflation
        df = degrees_of_freedom(tells, design)
        half = float(stdtrit(df, 0.975)) * sqrt(error_variance(tells, design, spread)) if df >= 1 else inf
        week = inf if visits_per_week is None else weeks_needed(n * design.followed, visits_per_week, design, agree)
        least = detectable(tells, design, spread)
        row = [power(effect, tells, design, spread), least, half, week]
        rows.append([int(n), *(value if value < inf else None for value in row)])
    return pl.DataFrame(rows, schema=CURVE, orient="row")
