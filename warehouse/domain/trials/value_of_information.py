"""Where a trial would change most decisions: the value of what it would tell, ranked.

A drill is a decision taken some times a week: the one that looks best is used. A trial is worth what it would add to
those uses by changing some of them. Not here: a student's own plan (trial_weeks), the evidence itself.
"""

from __future__ import annotations

from itertools import combinations
from math import exp, isfinite, pi, sqrt
from typing import Any, NamedTuple

import polars as pl

from warehouse.domain.trials.randomisation import FREE_PRACTICE

UNKNOWN_SD = 1.5
"""Where a drill has no pooled effect yet: its effect is taken as 0 give or take this many smallest changes."""
TRIAL_ERROR = 1 / 2.8
"""Error, in smallest changes, of a trial with 80% power for one: 1 / (1.96 + .84)."""
OPEN = (0.05, 0.95)
"""Chance that the one is better between which the two count as equally good for all that is known (equipoise)."""
HORIZON_WEEKS = 52.0
LEAST_GAIN = 0.01
"""Expected gain a use, in smallest changes, under which a trial would change next to nothing."""

CANDIDATE: dict[str, Any] = {
    "rank": pl.Int64, "drill_id": pl.String, "against": pl.String, "metric": pl.String, "measure": pl.String,
    "club_group": pl.String, "chance_better": pl.Float64, "gain_per_use": pl.Float64, "uses_per_week": pl.Float64,
    "needing_share": pl.Float64, "students": pl.Int64, "weeks": pl.Float64, "value": pl.Float64, "sentence": pl.String,
    "reason": pl.String,
}  # fmt: skip
"""`gain_per_use` expected gain by knowing more, in smallest changes; `value` the same over all uses of the
year that are left after the trial; `rank` null with a `reason` where no trial should be drawn."""


class Belief(NamedTuple):
    """Effect in smallest changes, up is better; `known` false where nothing has been pooled yet."""

    mean: float
    sd: float
    known: bool
    uses: float
    harmful: bool


def unit_loss(z: float) -> float:
    """Unit normal linear loss integral: phi(z) - z (1 - Phi(z)) (Raiffa & Schlaifer 1961)."""
    from scipy.special import ndtr

    return exp(-0.5 * z * z) / sqrt(2 * pi) - z * float(ndtr(-z))


def perfect_information(mean: float, sd: float) -> float:
    """Expected gain of knowing exactly which of two is better, their difference normal with this mean and sd."""
    return sd * unit_loss(abs(mean) / sd) if sd > 0 else 0.0


def sample_information(mean: float, sd: float, error: float) -> float:
    """Expected gain of a trial that measures the difference with this standard error, same unit as mean and sd.

    The mean after the trial is normal about the mean before with variance sd^4/(sd^2 + error^2) (Raiffa & Schlaifer
    1961): the gain is that of perfect information with this smaller spread.
    """
    return perfect_information(mean, sd**2 / sqrt(sd**2 + error**2)) if sd > 0 else 0.0


def _belief(row: dict[str, Any], uses: float) -> Belief:
    sign, unit = (1.0 if row["better"] == "up" else -1.0), row["matters_from"]
    harmful = row["verdict"] == "wrong way"
    centre, low, high = (row[name] for name in ("shrunk_effect", "shrunk_low", "shrunk_high"))
    if centre is None or low is None or high is None or not isfinite(high - low) or high <= low:
        return Belief(0.0, UNKNOWN_SD, False, uses, harmful)
    return Belief(sign * centre / unit, (high - low) / (2 * 1.959964) / unit, True, uses, harmful)


def _pair(one: Belief, other: Belief) -> tuple[float, float]:
    """Chance that the first is better, and gain of a trial per use."""
    from scipy.special import ndtr

    mean, sd = one.mean - other.mean, sqrt(one.sd**2 + other.sd**2)
    chance = float(ndtr(mean / sd)) if sd > 0 else float(mean > 0)
    return chance, sample_information(mean, sd, TRIAL_ERROR)


def rank(
    effects: pl.DataFrame, uses: pl.DataFrame, needing: pl.DataFrame | None = None, trials: pl.DataFrame | None = None,
    held: frozenset[str] = frozenset(), horizon: str = "transfer",
) -> pl.DataFrame:  # fmt: skip
    """Rank trials of drills of one aim against each other and against free practice: `CANDIDATE`.

    Parameters
    ----------
    effects : rows of mart.drill_effect; aims by club group are used.
    uses : `drill_id, club_group, uses_per_week`; without `club_group` (mart.drill) all uses count in every group.
    needing : `metric, club_group, share` of students who are a smallest change or more from their aim; else all.
    trials : `metric, club_group, students, weeks` of a trial for one smallest change at 80% power (trial_power); weeks
        null: too few students come here.
    held : drills that nobody should be given now.

    Notes
    -----
    Effects of two drills are taken as independent, and only the first session counts: a rough order, not a
    sum of money.
    """
    aims = effects.filter(
        pl.col("is_aim") & (pl.col("horizon") == horizon) & (pl.col("club_group") != "any")
        & pl.col("better").is_not_null() & (pl.col("matters_from") > 0)
    )  # fmt: skip
    key = ["metric", "measure", "club_group"]
    rows = []
    for (metric, measure, group), family in aims.sort("drill_id").group_by(key, maintain_order=True):
        here = uses.filter(pl.col("club_group") == group) if "club_group" in uses.columns else uses
        weekly = dict(here.select("drill_id", pl.col("uses_per_week").fill_null(0.0)).iter_rows())
        beliefs = {r["drill_id"]: _belief(r, weekly.get(r["drill_id"], 0.0)) for r in family.iter_rows(named=True)}
        beliefs[FREE_PRACTICE] = Belief(0.0, 0.0, True, 0.0, False)
        share = _lookup(needing, metric, group, "share", 1.0)
        size = _lookup(trials, metric, group, "students", None), _lookup(trials, metric, group, "weeks", None)
        for one, other in combinations(beliefs, 2):
            named = {"drill_id": one, "against": other, "metric": metric, "measure": measure, "club_group": group}
            rows.append(named | _candidate(named, beliefs[one], beliefs[other], share, size, held))
    table = pl.DataFrame(rows, schema={k: v for k, v in CANDIDATE.items() if k != "rank"})
    open_first = pl.col("reason").is_null()
    ranked = table.sort(open_first, "value", "drill_id", "against", descending=[True, True, False, False])
    place = pl.when(pl.col("reason").is_null()).then(pl.int_range(1, pl.len() + 1, dtype=pl.Int64))
    return ranked.with_columns(rank=place).select(*CANDIDATE)


def _lookup(frame: pl.DataFrame | None, metric: Any, group: Any, column: str, default: Any) -> Any:
    if frame is None:
        return default
    found = frame.filter((pl.col("metric") == metric) & (pl.col("club_group") == group))[column]
    return default if found.is_empty() or found[0] is None else found[0]


def _candidate(
    named: dict[str, Any], one: Belief, other: Belief, share: float, size: tuple[Any, Any], held: frozenset[str]
) -> dict[str, Any]:
    chance, gain = _pair(one, other)
    uses = one.uses + other.uses
    students, weeks = size
    value = gain * uses * share * max(HORIZON_WEEKS - (weeks or 0.0), 0.0)
    reason = _why_not(named, chance, (one, other), held, uses)
    if reason is None and students is not None and weeks is None:
        reason = f"too few students come here: a trial needs {students}"
    if reason is None and gain < LEAST_GAIN:
        reason = "both do about the same; knowing more would change next to nothing"
    return {
        "chance_better": chance, "gain_per_use": gain, "uses_per_week": uses, "needing_share": share,
        "students": students, "weeks": weeks, "value": value, "reason": reason,
        "sentence": None if reason else _sentence(named, chance, uses, one.known and other.known, students, weeks),
    }  # fmt: skip


def _why_not(
    named: dict[str, Any], chance: float, pair: tuple[Belief, Belief], held: frozenset[str], uses: float
) -> str | None:
    stopped = [drill for drill in (named["drill_id"], named["against"]) if drill in held]
    if stopped:
        return f"{', '.join(stopped)} is held"
    if any(belief.harmful for belief in pair):
        return "one of the two goes the wrong way; nobody should be drawn to it"
    if not OPEN[0] <= chance <= OPEN[1]:
        return "which of the two is better is known well enough"
    return "neither has been used lately" if uses == 0 else None


def _sentence(
    named: dict[str, Any], chance: float, uses: float, known: bool, students: int | None, weeks: float | None
) -> str:
    first, second = named["drill_id"], named["against"]
    better, odds = (first, chance) if chance >= 0.5 else (second, 1 - chance)
    often = "about once" if round(uses) == 1 else f"{uses:.0f} times" if uses > 1 else "less than once"
    said = f"{first} or {second}: used {often} a week"
    said += f"; {better} is better with a chance of {odds:.0%}" if known else "; hardly anything is known yet"
    if not students or weeks is None:
        return f"{said}; a trial would tell."
    return f"{said}; {students} students, about {'a week' if weeks < 1.5 else f'{weeks:.0f} weeks'}, would tell."
