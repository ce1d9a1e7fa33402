"""A finished trial's verdict and certainty by the house's rules, with intervals that hold at all its looks together.

Only puts rows into the words of warehouse/domain: the rules are in verdict.py, the limits in trial_monitor.py.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil, isfinite
from typing import Any

import polars as pl

from warehouse.domain.drill_effect import verdict
from warehouse.domain.trials import interim_look
from warehouse.domain.trials.estimate import LEAST_PER_ARM
from warehouse.domain.trials.interim_look import TOO_EARLY
from warehouse.domain.trials.randomisation import FREE_PRACTICE
from warehouse.trials.plan import Plan

WARMS_UP = "balls hit with the drill warm up too, and count for it against free balls"
"""After a drill come more balls than after free practice has begun; the estimate takes no account of it, since how many
a student hits may itself be the drill's doing."""
NOT_BY_COACH = 2
"""Lots are drawn within sites, not by coach: the rule about a single coach does not ask here."""


def missing(value: float | None) -> bool:
    """Return whether there is no number."""
    return value is None or not isfinite(value)


@dataclass(frozen=True)
class Verdict:
    """A verdict (None: nothing says what better is) and a certainty, each with its reason in words."""

    verdict: str | None
    reason: str
    certainty: str
    certainty_reason: str


def at_all_looks(plan: Plan, result: pl.DataFrame, looks: pl.DataFrame) -> pl.DataFrame:
    """Return the result with the intervals as drawn widened for the looks taken on the way; as it is without any.

    Parameters
    ----------
    result
        trial_estimate.RESULT.
    looks
        Entries of trial_look.
    """
    counted = looks.filter((pl.col("decision") != TOO_EARLY) & (pl.col("information") < 1))
    rows = []
    for row in result.iter_rows(named=True):
        shares = tuple(counted.filter(pl.col("arm") == row["arm"]).sort("information")["information"].to_list())
        if row["analysis"] == "as drawn" and shares and not missing(row["effect"]):
            seen = interim_look.look(
                plan.decision_rule(), row["effect"], row["standard_error"], row["df"], row["students"], shares, True
            )
            if seen.decision != TOO_EARLY:
                row["ci_low"], row["ci_high"] = seen.interval
        rows.append(row)
    return pl.DataFrame(rows, schema=result.schema)


def judged(plan: Plan, row: dict[str, Any], weeks: float, drawn: Mapping[str, int]) -> Verdict:
    """Judge one drawn group against the other (a row of RESULT, as drawn); `drawn` students by group.

    The second estimator is the same difference with the more cautious error (HC3); the p-value the larger of the
    estimate's and the randomisation test's.
    """
    students = row["students"] + row["reference_students"]
    if plan.kind == "crossover":
        students = row["students"]
    given = not missing(row["effect"]) and not missing(row["ci_low"])
    effect, error, careful = (
        (row["effect"], row["standard_error"], row["standard_error_hc3"]) if given else (float("nan"),) * 3
    )
    p_values = [row[name] for name in ("p_value", "randomisation_p") if not missing(row[name])]
    evidence = verdict.Evidence(
        episodes=students * plan.episodes, students=students, coaches=NOT_BY_COACH, df=row["df"] or 0.0, weeks=weeks,
        effect=effect, error=error, check_effect=effect, check_error=careful, q_value=max(p_values, default=1.0),
        better=plan.better, matters_from=plan.matters_from, not_estimable="" if given else row["reason"] or "",
    )  # fmt: skip
    followed = students / (students + row["missing"]) if students + row["missing"] else None
    word, reason = verdict.judge(evidence)
    if word == "too early":
        reason = too_early(plan, row, drawn) or reason
    if word in ("works", "helps", "wrong way") and row["ci_low"] <= 0 <= row["ci_high"]:
        word, reason = "unclear", "clear without looks, not once the looks taken on the way are counted"
    certainty, doubts = verdict.certainty(evidence, verdict.Doubt(1.0, followed, False))
    if FREE_PRACTICE in (row["arm"], row["reference"]):
        doubts = "; ".join(part for part in (doubts, WARMS_UP) if part)
    return Verdict(word, reason, certainty, doubts)


def too_early(plan: Plan, row: dict[str, Any], drawn: Mapping[str, int]) -> str:
    """Say how many students were drawn and measured in each group, and how many more a verdict needs; empty: none.

    The house's rules count students, episodes and degrees of freedom; here all three are put into students measured, at
    the degrees of freedom that this trial lost to its groups and covariates.
    """
    crossover = plan.kind == "crossover"
    here, there = row["students"], row["students" if crossover else "reference_students"]
    students = here if crossover else here + there
    lost = students - row["df"] if not missing(row["df"]) else 0.0
    for_episodes = ceil(verdict.VERDICT_EPISODES / plan.episodes)
    whole = max(verdict.VERDICT_STUDENTS, for_episodes, ceil(verdict.VERDICT_DF + lost))
    one, other = drawn[row["arm"]], drawn[row["reference"]]
    if crossover:
        lacking = f"{one} students drawn, {here} measured with both; a verdict needs {whole}, {whole - here} more"
        return lacking if here < whole else ""
    each = max(ceil(whole / 2), LEAST_PER_ARM)
    more = max(each - here, 0), max(each - there, 0)
    if not any(more):
        return ""
    return (
        f"{one} students drawn to it and {other} to what it is compared with, {here} and {there} of them measured; a "
        f"verdict needs {each} measured in each group, {more[0]} and {more[1]} more"
    )
