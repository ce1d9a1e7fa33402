"""From two intervals to a word, with the reason in words. Not here: estimation.

"Better" is the sign of an effect that helps; `matters_from` the smallest change that matters, MID for short.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, isfinite

import numpy as np

INTERVAL_STUDENTS = 5
VERDICT_STUDENTS = 10
VERDICT_EPISODES = 20
VERDICT_DF = 8
Q_LIMIT = 0.05
TREND_SPREADS = 1.5
"""How many standard deviations of students' own trends those given a drill may lie from others before a claim holds:
two groups of equal size that differ by two are one apart from their mean each."""

VERDICTS = (
    "works", "helps", "unclear", "no meaningful effect", "wrong way", "depends on assumptions", "too early",
)  # fmt: skip
CERTAINTIES = ("very low", "low", "moderate", "high")


@dataclass(frozen=True)
class Evidence:
    """What a verdict rests on; estimates in the metric's unit, `better` +1 or -1 (0: nothing says what better is)."""

    episodes: int
    students: int
    coaches: int
    df: float
    weeks: float
    effect: float
    error: float
    check_effect: float
    check_error: float
    q_value: float
    better: float
    matters_from: float
    not_estimable: str = ""
    trend_to_explain: float = float("nan")
    trend_spread: float = float("nan")
    drawn_share: float = 0.0
    selection_shift: float = 0.0

    @property
    def trend_explains(self) -> bool:
        """Whether students who got the drill improving by themselves a little faster than others would be enough.

        As fast as `TREND_SPREADS` times what students here differ by; drills drawn by lot go to fast and slow alike.
        """
        enough = isfinite(self.trend_to_explain) and 0 < self.trend_to_explain <= TREND_SPREADS * self.trend_spread
        return enough and self.drawn_share < 0.5


@dataclass(frozen=True)
class Doubt:
    """What certainty steps down for, besides the evidence itself."""

    drawn_share: float
    followed_share: float | None
    unseen_levels: bool
    placebo_leans: bool = False


def missing(evidence: Evidence) -> str:
    """What stands between this row and a verdict, in words; empty when nothing does."""
    if evidence.not_estimable:
        return evidence.not_estimable
    wants, waits = [], []
    for have, need, name in (
        (evidence.students, VERDICT_STUDENTS, "students"), (evidence.episodes, VERDICT_EPISODES, "episodes"),
    ):  # fmt: skip
        if have < need:
            wants.append(f"{have} of {need} {name}")
            waits.append((need - have) * max(evidence.weeks, 1.0) / have if have else float("inf"))
    if wants:
        wants.append(_pace(max(waits)))
    elif evidence.df < VERDICT_DF:
        wants.append(
            f"a few students did most of it (counts as {evidence.df + 1:.1f} students, {VERDICT_DF + 1} needed)"
        )
    said = ", ".join(wants)
    if evidence.coaches == 1:
        coach = "one coach only: waiting will not help, a second coach would"
        said = f"{said}; {coach}" if said else coach
    return said


def _pace(weeks: float) -> str:
    if not isfinite(weeks):
        return "none yet"
    return f"about {max(ceil(weeks), 1)} week{'s' if ceil(weeks) > 1 else ''} at this pace"


def two_sided(effect: float, error: float, df: float) -> float:
    """Two-sided p-value of a t statistic; NaN without an error."""
    from scipy.special import stdtr

    if not (isfinite(effect) and isfinite(error) and df > 0):
        return float("nan")
    if error == 0:
        return 1.0 if effect == 0 else 0.0
    return float(2 * stdtr(df, -abs(effect / error)))


def combined_p(first: tuple[float, float], second: tuple[float, float], df: float) -> float:
    """The larger p of two (effect, error) pairs where they agree in sign, 1 where they do not."""
    pair = two_sided(*first, df), two_sided(*second, df)
    if not all(isfinite(p) for p in pair):
        return float("nan")
    return max(pair) if np.sign(first[0]) == np.sign(second[0]) else 1.0


def interval(effect: float, error: float, df: float, confidence: float = 0.95) -> tuple[float, float]:
    """Interval by the t distribution; NaN pair without an error or degrees of freedom."""
    from scipy.special import stdtrit

    if not (isfinite(effect) and isfinite(error) and df > 0):
        return float("nan"), float("nan")
    half = float(stdtrit(df, 0.5 + confidence / 2)) * error
    return effect - half, effect + half


def _oriented(evidence: Evidence, confidence: float) -> list[tuple[float, float]]:
    """Both intervals turned so that up is better."""
    pairs = []
    for effect, error in (
        (evidence.effect, evidence.error), (evidence.check_effect, evidence.check_error),
    ):  # fmt: skip
        low, high = interval(effect, error, evidence.df, confidence)
        # What balls lost to the bay could account for is part of what is not known.
        low, high = low - evidence.selection_shift, high + evidence.selection_shift
        pairs.append((low, high) if evidence.better > 0 else (-high, -low))
    return pairs


def judge(evidence: Evidence) -> tuple[str | None, str]:
    """Return the verdict (None where nothing says what better is) and its reason in words."""
    if evidence.better == 0:
        return None, "neither an aim nor a better direction says what better is"
    lacking = missing(evidence)
    if lacking:
        return "too early", lacking
    both = _oriented(evidence, 0.95)
    worst, best = min(low for low, _ in both), max(high for _, high in both)
    sure = evidence.q_value <= Q_LIMIT
    clear = [low > 0 or high < 0 for low, high in both]
    opposite = all(clear) and (both[0][0] > 0) != (both[1][0] > 0)
    size = evidence.matters_from
    within = all(-size < low and high < size for low, high in _oriented(evidence, 0.90))
    # The first that matches is the verdict.
    claimed = sure and (best < 0 or worst > 0)
    rules = (
        (claimed and evidence.trend_explains, "depends on assumptions",
         "cannot be told from a trend: it would be explained if students who got it improved by "
         f"{evidence.trend_to_explain:.2g} a week faster than others, and students here differ by "
         f"{evidence.trend_spread:.2g} a week (one standard deviation); only drawing lots would tell"),
        (sure and best < 0, "wrong way", "both intervals lie on the worse side"),
        (sure and worst >= size, "works", "both intervals lie at or beyond the smallest change that matters"),
        (sure and worst > 0, "helps",
         "both intervals lie beyond 0, not surely beyond the smallest change that matters"),
        (within, "no meaningful effect", "both 90% intervals lie within the smallest change that matters"),
        (clear[0] != clear[1] or opposite, "depends on assumptions",
         "the two estimators do not agree on whether there is an effect"),
        (all(clear), "unclear", "an effect this size could be a false one among the rows judged together"),
    )  # fmt: skip
    for holds, verdict, reason in rules:
        if holds:
            return verdict, reason
    return "unclear", "the intervals hold both 0 and changes that matter"


def certainty(evidence: Evidence, doubt: Doubt) -> tuple[str, str]:
    """Certainty after GRADE: high when at least half was drawn by lot, else moderate; a step down for each doubt."""
    drawn = doubt.drawn_share >= 0.5
    level = 3 if drawn else 2
    reasons = ["drills drawn by lot" if drawn else "drills chosen, not drawn by lot"]
    if evidence.not_estimable or not isfinite(evidence.effect):
        return CERTAINTIES[0], "; ".join([*reasons, evidence.not_estimable or "no estimate"])
    low, high = interval(evidence.effect, evidence.error, evidence.df)
    if evidence.students < 20:
        reasons.append(f"only {evidence.students} student{'s' if evidence.students != 1 else ''}")
        level -= 1
    if not isfinite(low) or evidence.students < INTERVAL_STUDENTS or high - low > 2 * evidence.matters_from:
        reasons.append("interval wider than twice the smallest change that matters")
        level -= 1
    if doubt.followed_share is not None and doubt.followed_share < 0.6:
        reasons.append(f"only {doubt.followed_share:.0%} followed up")
        level -= 1
    if isfinite(evidence.check_effect) and abs(evidence.effect - evidence.check_effect) > evidence.matters_from:
        reasons.append("the two estimators differ by more than the smallest change that matters")
        level -= 1
    if doubt.unseen_levels:
        reasons.append("a coach or bay without free practice took the mean level")
        level -= 1
    if evidence.selection_shift > 0:
        reasons.append("the share of balls measured changed: the interval holds what those lost could do")
        level -= 1
    if evidence.trend_explains:
        reasons.append("students' own trends could explain it")
        level -= 1
    if doubt.placebo_leans:
        reasons.append("free practice of the same students, taken for the drill, seems to do something too")
        level -= 1
    return CERTAINTIES[max(level, 0)], "; ".join(reasons)
