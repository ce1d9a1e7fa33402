"""What became of everybody who was asked: the rows of a flow diagram in the order of the CONSORT statement.

Assessed, drawn, done, followed, analysed (Schulz, Altman & Moher 2010, BMJ 340:c332). Not here: the result.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

import polars as pl

STEPS = ("assessed", "not eligible", "not drawn", "drawn", "done", "followed", "analysed")
FLOW: dict[str, Any] = {
    "step": pl.String, "arm": pl.String, "what": pl.String, "students": pl.Int64,
}  # fmt: skip
"""`arm` null before the draw; `what` the reason or state, null for a whole."""


TAKEN_OUT = "taken out of the records since"


def flow(assessed: pl.DataFrame, participants: pl.DataFrame, taken_out: Sequence[str] = ()) -> pl.DataFrame:
    """Count everybody at every step: `FLOW`.

    Parameters
    ----------
    assessed : `student_id`, `reason` (why not drawn; null: drawn) and, where some were outside the plan, `eligible`;
        one row a student asked or looked at.
    participants : `trial_estimate.PARTICIPANT`, one row a student drawn.
    taken_out : the group of each who was drawn and is in no record any more: drawn all the same, and not measured.

    Raises
    ------
    ValueError
        Those drawn are not those whose `reason` is null: the two lists disagree and no diagram would be true.
    """
    drawn = set(assessed.filter(pl.col("reason").is_null())["student_id"])
    if drawn != set(participants["student_id"]) or assessed["student_id"].is_duplicated().any():
        raise ValueError("students assessed and students drawn do not agree")
    gone = Counter(taken_out)
    rows: list[list[Any]] = [["assessed", None, None, assessed.height + gone.total()]]
    fit = pl.col("eligible") if "eligible" in assessed.columns else pl.lit(True)
    for step, left_out in (("not eligible", assessed.filter(~fit)), ("not drawn", assessed.filter(fit))):
        refused = left_out.drop_nulls("reason").group_by("reason").len()
        refused = refused.sort("len", "reason", descending=[True, False])
        rows += [[step, None, reason, n] for reason, n in refused.iter_rows()]
    rows.append(["drawn", None, None, participants.height + gone.total()])
    arms = sorted({*participants["arm"], *gone})
    by_arm = [(arm, participants.filter(pl.col("arm") == arm)) for arm in arms]
    rows += [["drawn", arm, None, here.height + gone[arm]] for arm, here in by_arm]
    for arm, here in by_arm:
        same = here.filter(pl.col("done") == arm).height
        other = here.filter(pl.col("done") != arm).height
        nothing = here["done"].null_count()
        rows += [
            ["done", arm, "as drawn", same], ["done", arm, "something else", other], ["done", arm, "nothing", nothing],
            *_gone("done", arm, gone),
        ]  # fmt: skip
    for arm, here in by_arm:
        missing = here["outcome"].null_count()
        rows += [["followed", arm, "measured", here.height - missing], ["followed", arm, "missing", missing]]
        rows += _gone("followed", arm, gone)
    for arm, here in by_arm:
        rows.append(["analysed", arm, "as drawn", here.drop_nulls(["outcome", "baseline"]).height])
    return pl.DataFrame(rows, schema=FLOW, orient="row")


def _gone(step: str, arm: str, gone: Counter[str]) -> list[list[Any]]:
    return [[step, arm, TAKEN_OUT, gone[arm]]] if gone[arm] else []
