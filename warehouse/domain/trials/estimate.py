"""What a trial found: difference of drawn groups adjusted for the start, with a randomisation test beside it.

Analysed as drawn (the answer) and as done (a description: who did something else chose to). Not here: verdicts over all
evidence (verdict), looks on the way (trial_monitor).
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import polars as pl
from numpy.typing import NDArray

from warehouse.domain.trials.permutation_test import orders_p, randomisation_p, sign_flip_p
from warehouse.domain.trials.regression import Contrast, adjusted, contrast

Floats = NDArray[np.float64]

LEAST_PER_ARM = 5
ANALYSES = ("as drawn", "as done")
PARTICIPANT: dict[str, Any] = {
    "student_id": pl.String, "stratum": pl.String, "block": pl.Int64, "arm": pl.String, "done": pl.String,
    "baseline": pl.Float64, "outcome": pl.Float64,
}  # fmt: skip
"""One row a student drawn. `arm` drawn; `done` what was done (null: nothing); `baseline` mean block before, `outcome`
mean block after or next session's, bay offsets removed, oriented as the metric; null where missing."""
PERIOD: dict[str, Any] = {
    "student_id": pl.String, "stratum": pl.String, "block": pl.Int64, "period": pl.Int64, "arm": pl.String,
    "done": pl.String, "baseline": pl.Float64, "outcome": pl.Float64,
}  # fmt: skip
"""A crossover's: one row a student and period (1, 2 ...), `arm` the drill that the order drawn puts there."""
RESULT: dict[str, Any] = {
    "arm": pl.String, "reference": pl.String, "analysis": pl.String, "students": pl.Int64,
    "reference_students": pl.Int64, "missing": pl.Int64, "plain_difference": pl.Float64, "effect": pl.Float64,
    "standard_error": pl.Float64, "standard_error_hc3": pl.Float64, "df": pl.Float64, "ci_low": pl.Float64,
    "ci_high": pl.Float64, "p_value": pl.Float64, "randomisation_p": pl.Float64, "reason": pl.String,
}  # fmt: skip
"""`effect` arm less reference, unit of the metric; 95% interval (or at `critical`); `reason` where there is none."""


class _Ready(NamedTuple):
    y: Floats
    treated: Floats
    covariates: Floats
    fixed: Floats
    block: NDArray[np.str_]


def _strata(stratum: NDArray[np.str_], treated: Floats) -> tuple[Floats, Floats]:
    """Indicators of strata: crossed with the lot where every cell holds three, else entered alone, thin ones merged."""
    names, code, n = np.unique(stratum, return_inverse=True, return_counts=True)
    cells = np.array([np.bincount(code, treated == arm, names.size) for arm in (0.0, 1.0)])
    columns = (code[:, None] == np.arange(1, names.size)).astype(np.float64)
    none = np.zeros((stratum.size, 0))
    if cells.min(initial=np.inf) >= 3:
        return columns, none
    return none, columns[:, n[1:] >= 4]


def _ready(rows: pl.DataFrame, arm: str) -> _Ready:
    treated = (rows["arm"] == arm).cast(pl.Float64).to_numpy()
    crossed, fixed = _strata(rows["stratum"].cast(pl.String).to_numpy().astype(str), treated)
    start = rows["baseline"].to_numpy()[:, None]
    start = start if float(np.ptp(start)) > 0 else start[:, :0]
    label = rows.select(pl.concat_str(["stratum", pl.col("block").fill_null(0).cast(pl.String)], separator="\n"))
    block = label.to_series().to_numpy().astype(str)
    return _Ready(rows["outcome"].to_numpy(), treated, np.hstack([start, crossed]), fixed, block)


def _result(fit: Contrast, critical: float | None) -> dict[str, Any]:
    from scipy.special import stdtr, stdtrit

    estimate, error, hc3 = float(fit.estimate), float(fit.hc2), float(fit.hc3)
    reach = (float(stdtrit(fit.df, 0.975)) if critical is None else critical) * error
    p = 2 * float(stdtr(fit.df, -abs(estimate / error))) if error > 0 else float(estimate == 0)
    return {
        "effect": estimate, "standard_error": error, "standard_error_hc3": hc3, "df": fit.df,
        "ci_low": estimate - reach, "ci_high": estimate + reach, "p_value": p,
    }  # fmt: skip


def read(
    participants: pl.DataFrame, reference: str, critical: float | None = None, redraws: int = 1999, seed: int = 0
) -> pl.DataFrame:
    """Compare each arm of a parallel trial with the reference: `RESULT`, as drawn and as done.

    Parameters
    ----------
    participants : `PARTICIPANT`.
    critical : reach of the interval in standard errors, where looks were taken (`trial_monitor.Look`); else t at 95%.
    """
    rows = []
    whole = participants.with_columns(pl.col("outcome", "baseline").cast(pl.Float64))
    for analysis in ANALYSES:
        taken = whole if analysis == "as drawn" else whole.with_columns(arm=pl.col("done")).drop_nulls("arm")
        for arm in sorted(set(whole["arm"]) - {reference}):
            pair = taken.filter(pl.col("arm").is_in([arm, reference]))
            rows.append(
                {"arm": arm, "reference": reference, "analysis": analysis}
                | _compare(pair, arm, analysis, critical, redraws, seed)
            )
    return pl.DataFrame(rows, schema=RESULT)


def _compare(
    pair: pl.DataFrame, arm: str, analysis: str, critical: float | None, redraws: int, seed: int
) -> dict[str, Any]:
    known = pair.drop_nulls(["outcome", "baseline"])
    here = known.filter(pl.col("arm") == arm)["outcome"]
    there = known.filter(pl.col("arm") != arm)["outcome"]
    row: dict[str, Any] = {
        "students": here.len(), "reference_students": there.len(), "missing": pair.height - known.height,
    }  # fmt: skip
    if min(here.len(), there.len()) < LEAST_PER_ARM:
        least = min(here.len(), there.len())
        return row | {"reason": f"{least} of {LEAST_PER_ARM} students with an outcome in the smaller group"}
    at = _ready(known, arm)
    row["plain_difference"] = float(at.y[at.treated == 1].mean() - at.y[at.treated == 0].mean())
    fit = adjusted(at.y, at.treated, at.covariates, at.fixed)
    if analysis == "as drawn":
        row["randomisation_p"] = randomisation_p(at.y, at.treated, at.covariates, at.block, redraws, seed)
    return row | _result(fit, critical)


def read_crossover(
    periods: pl.DataFrame, reference: str, critical: float | None = None, redraws: int = 1999, seed: int = 0
) -> pl.DataFrame:
    """Compare each drill of a crossover with the reference within students: `RESULT`.

    Parameters
    ----------
    periods : `PERIOD`. Students with both drills measured count; a lasting effect of the first drill on the second
        period is not removed by order, only balanced: leave days between.
    """
    rows = []
    for analysis in ANALYSES:
        by = "arm" if analysis == "as drawn" else "done"
        for arm in sorted(set(periods["arm"].drop_nulls()) - {reference}):
            rows.append(
                {"arm": arm, "reference": reference, "analysis": analysis}
                | _within(periods.drop_nulls(by), by, arm, reference, critical, redraws, seed)
            )
    return pl.DataFrame(rows, schema=RESULT)


def _within(
    periods: pl.DataFrame, by: str, arm: str, reference: str, critical: float | None, redraws: int, seed: int
) -> dict[str, Any]:
    sides = [
        periods.filter(pl.col(by) == name)
        .group_by("student_id")
        .agg(pl.col("stratum", "block").first(), pl.col("period", "baseline", "outcome").mean())
        for name in (arm, reference)
    ]
    pair = sides[0].join(sides[1], on="student_id", suffix="_other").sort("student_id")
    known = pair.drop_nulls(["baseline", "outcome", "baseline_other", "outcome_other"])
    entered = periods.filter(pl.col(by).is_in([arm, reference]))["student_id"].n_unique()
    row: dict[str, Any] = {
        "students": known.height, "reference_students": known.height, "missing": entered - known.height,
    }  # fmt: skip
    if known.height < LEAST_PER_ARM:
        return row | {"reason": f"{known.height} of {LEAST_PER_ARM} students with both drills measured"}
    after = (known["outcome"] - known["outcome_other"]).to_numpy()
    before = (known["baseline"] - known["baseline_other"]).to_numpy()
    period = (known["period"] - known["period_other"]).to_numpy()
    # Neither column is centred: both differences are expected to be 0 by the draw of orders.
    columns = [np.ones_like(after), *(x for x in (period, before) if float(np.ptp(x)) > 0)]
    design = np.stack(columns, axis=-1)
    row["plain_difference"] = float(after.mean())
    if by == "arm":
        # Exchanging a student's drills turns the signs of all three differences, which leaves this fit through zero as
        # it is and turns its residual: the test stays exact.
        others = design[:, 1:]
        left = after - others @ np.linalg.lstsq(others, after, rcond=None)[0] if others.size else after
        label = known.select(pl.concat_str(["stratum", pl.col("block").fill_null(0).cast(pl.String)], separator="\n"))
        block = label.to_series().to_numpy().astype(str)
        mixed = float(np.ptp(np.sign(period))) > 0
        # All in one order: nothing was drawn between these two, and turning signs is the only test there is.
        row["randomisation_p"] = (
            orders_p(left, period < 0, block, redraws, seed) if mixed else sign_flip_p(left, redraws, seed)
        )
    return row | _result(contrast(design, after, 0), critical)
