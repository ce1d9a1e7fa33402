"""A look at a running trial: go on, stop for a difference found, or stop for harm, by the rule chosen at its start.

Not here: the boundaries (trial_boundary, trial_always), recruitment and balance (trial_follow).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import isfinite
from typing import NamedTuple

from warehouse.domain.trials.confidence_sequence import Interval, confidence_sequence, too_many, widened
from warehouse.domain.trials.group_sequential import SPENDINGS, spending_boundary

RULES = (*SPENDINGS, "always valid")
LEAST_DF = 8.0
"""Degrees of freedom under which no look decides; a small group's own spread is not known well enough."""
MOST_BEFORE_LAST = 0.99
HARM_ALPHA = 0.10
"""Harm is called on weaker evidence than benefit: chance of a false stop for harm over the whole trial, two-sided."""
STOPS_TOLERATED = 0.02
"""Share of episodes stopped (pain, aid struck, rebound) above which a drill is too risky to go on drawing."""


@dataclass(frozen=True)
class Rule:
    """Chosen at the start and never changed.

    `kind` obrien-fleming or pocock (alpha spent by information, Lan & DeMets 1983), or always valid; `better` +1 or -1;
    `matters_from` the smallest change that matters; `students` planned with an outcome in the two groups compared.
    """

    kind: str
    better: float
    matters_from: float
    students: int
    alpha: float = 0.05

    def __post_init__(self) -> None:
        """Refuse a rule that cannot be."""
        if self.kind not in RULES:
            raise ValueError(f"a rule is one of {RULES}")
        if abs(self.better) != 1 or not self.matters_from > 0 or self.students < 4:
            raise ValueError("better is 1 or -1; the smallest change is above 0; four students at least")


class Look(NamedTuple):
    """What one look says.

    `decision` go on, stop: difference found, stop: harm, or too early to look; `interval` holds at all looks together;
    `information` share of the planned; `limit` of |z|, None where the rule has none.
    """

    decision: str
    sentence: str
    interval: Interval
    information: float
    z: float
    limit: float | None


GO_ON, FOUND, HARM, TOO_EARLY = "go on", "stop: difference found", "stop: harm", "too early to look"


def normal_score(estimate: float, error: float, df: float) -> float:
    """The z with the same two-sided p-value as the t statistic estimate/error (Jennison & Turnbull 2000, §3.8)."""
    from scipy.special import ndtri, stdtr

    if not error > 0 or not isfinite(estimate):
        return float("nan")
    t = estimate / error
    tail = max(float(stdtr(df, -abs(t))), 1e-300)
    return float(-ndtri(tail)) * (1.0 if t >= 0 else -1.0)


def information_share(rule: Rule, measured: int, last: bool = False) -> float:
    """Share of the planned information: students measured of those planned; 1 at the last look, and only there.

    By heads, not by the error seen: a look whose error happens to come out small would move its own limit in (tried:
    5.8% false findings for 5%). Before the last it stays under 1, else alpha would be spent whole and then once more.
    """
    return 1.0 if last else min(measured / rule.students, MOST_BEFORE_LAST)


def look(
    rule: Rule, estimate: float, error: float, df: float, measured: int, earlier: tuple[float, ...] = (),
    last: bool = False,
) -> Look:  # fmt: skip
    """Judge the difference so far (drill less reference, unit of the metric).

    Parameters
    ----------
    estimate, error, df : of the difference at this look.
    measured : students with an outcome in the two groups compared.
    earlier : information shares of the looks already taken, whatever they said.
    last : the trial ends here; what alpha is left is spent.
    """
    share = information_share(rule, measured, last)
    if not error > 0 or df < LEAST_DF or (earlier and share <= earlier[-1]):
        said = "Too little has come in since the last look; keep drawing and look again later."
        return Look(TOO_EARLY, said, Interval(-float("inf"), float("inf")), share, float("nan"), None)
    z = normal_score(estimate, error, df)
    harm = rule.better * estimate < 0 and _harmful(rule, estimate, error, df)
    if rule.kind == "always valid":
        limit = None
        interval = confidence_sequence(estimate, widened(error, df), rule.matters_from, rule.alpha)
        found = interval.low > 0 or interval.high < 0
    else:
        limit = _limit(rule.kind, (*earlier, share), rule.alpha)
        half = _t_like(limit, df) * error
        interval = Interval(estimate - half, estimate + half)
        found = abs(z) >= limit
    if harm or (found and rule.better * estimate < 0):
        said = "The drill looks worse than what it is compared with; stop drawing it and tell the coaches."
        return Look(HARM, said, interval, share, z, limit)
    if found:
        said = "The difference is found by the rule chosen at the start; no more students need to be drawn."
        return Look(FOUND, said, interval, share, z, limit)
    said = f"Nothing is decided at {share:.0%} of the planned information; go on as planned."
    return Look(GO_ON, said, interval, share, z, limit)


@lru_cache(maxsize=256)
def _limit(kind: str, shares: tuple[float, ...], alpha: float) -> float:
    return float(spending_boundary(kind, shares, alpha)[-1])


def _t_like(limit: float, df: float) -> float:
    """The t quantile with the same tail as the z limit."""
    from scipy.special import ndtr, stdtrit

    return float(stdtrit(df, 1 - ndtr(-limit))) if limit < 8 else float("inf")


def _harmful(rule: Rule, estimate: float, error: float, df: float) -> bool:
    """Whether a confidence sequence at the weaker level lies wholly on the worse side, at any look."""
    held = confidence_sequence(estimate, widened(error, df), rule.matters_from, HARM_ALPHA)
    return held.high < 0 if rule.better > 0 else held.low > 0


class Safety(NamedTuple):
    """`decision` go on, pause (a person looks first), or stop; `evidence` an e-value that stops are too frequent."""

    decision: str
    sentence: str
    evidence: float


def safety(pain: int, other: int, episodes: int, tolerated: float = STOPS_TOLERATED, alpha: float = HARM_ALPHA
           ) -> Safety:  # fmt: skip
    """Judge how often an arm's drill was stopped; any pain pauses it until a person has looked.

    Parameters
    ----------
    pain, other : stops for pain; for an aid struck or a rebound. episodes : times the drill was begun.

    Notes
    -----
    Pausing at the first pain is a usual caution, not a calculation; coach, medical advice and local law come first.
    """
    events = pain + other
    evidence = too_many(min(events, episodes), episodes, tolerated) if episodes else 0.0
    if evidence >= 1 / alpha:
        said = f"It was stopped in {events} of {episodes} episodes, too often to be luck; draw it no more."
        return Safety("stop", said, evidence)
    if pain:
        times = "once" if pain == 1 else f"{pain} times"
        said = f"Stopped for pain {times}; pause until the coach on site has looked into it."
        return Safety("pause", said, evidence)
    return Safety("go on", f"Stopped in {events} of {episodes} episodes.", evidence)
