"""How much a gap between two balls looks like an aid put down or taken up, and not like the next ball.

Not here: which gap a logged mark belongs to (placement.py).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MIN_GAPS = 8
PAUSE_LOG_RATIO, PAUSE_SPREAD = 1.0, 0.5
"""A pause for an aid lasts about e times the usual gap, give or take (common practice, no source)."""
LEAST_SPREAD = 0.2
TAIL = 8.0
"""Degrees of freedom of log gaps without a pause: people stop to talk, too."""
CLEAR = 4.0
"""A gap this many times likelier as a pause counts as one when a session's own breaks are counted."""


@dataclass(frozen=True)
class Gaps:
    """Gaps between a session's balls, (n - 1,): likelihood as a pause for an aid over that as the next ball."""

    ratio: Floats

    def at_cuts(self, without_pause: float) -> Floats:
        """Return the factor of each cut, (n + 1,): before the first ball, between balls, after the last.

        Parameters
        ----------
        without_pause : share of marks at which nobody pauses; the first and last cut show no gap to judge by.
        """
        inner = without_pause + (1 - without_pause) * self.ratio
        return np.concatenate([[1.0], inner, [1.0]])


def _t_density(z: Floats, df: float) -> Floats:
    from scipy.special import gammaln

    scale = np.exp(gammaln((df + 1) / 2) - gammaln(df / 2)) / np.sqrt(df * np.pi)
    return np.asarray(scale * (1 + z**2 / df) ** (-(df + 1) / 2))


def judge(waited: Floats, marks: int) -> Gaps:
    """Compare a session's gaps with its own usual one.

    Parameters
    ----------
    waited : (n - 1,) seconds before each ball but the first in which nobody hit one in the bay.
    marks : aids put down and taken up that the log knows of; two for a drill.

    Notes
    -----
    Log gaps over the session's median: Student's t about 0 by their median absolute deviation, against a normal about
    `PAUSE_LOG_RATIO`. Where a session has more long gaps than its marks account for (balls in turns, talk), the share
    of those is added to what the next ball may look like, so that no single one of them says much.
    """
    gap = np.maximum(waited, 1.0)
    if gap.size < MIN_GAPS:
        return Gaps(np.ones(gap.size))
    away = np.log(gap / np.median(gap))
    spread = max(1.4826 * float(np.median(np.abs(away))), LEAST_SPREAD)
    ordinary = _t_density(away / spread, TAIL) / spread
    z = (away - PAUSE_LOG_RATIO) / PAUSE_SPREAD
    # Beyond the usual length a pause stays a pause: no next ball takes that long.
    z = np.where(z > 0, 0.5 * z, z)
    pause = np.exp(-0.5 * z**2) / (PAUSE_SPREAD * np.sqrt(2 * np.pi))
    breaks = max(int((pause > CLEAR * ordinary).sum()) - marks, 0) / gap.size
    return Gaps(pause / (ordinary + breaks * pause))
