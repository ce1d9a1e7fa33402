"""Lots that were drawn, as the night reads them: which drill a student drew, how often it is to be done, until when.

A crossover's lot is a row for each drill of its order; free practice is no drill and has none. Not here: which drill of
the log was done by lot (stage.drawn_drill, warehouse/build/randomised_drills.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import polars as pl

from warehouse.domain.trials.randomisation import FREE_PRACTICE, ORDER_MARK
from warehouse.trials.plan import Plan

SCHEMA: dict[str, Any] = {
    "student_id": pl.String, "drill_id": pl.String, "club_group": pl.String, "uses": pl.Int32, "drawn_on": pl.Date,
    "drawn_at": pl.Datetime("us"), "ends_on": pl.Date, "given_up_at": pl.Datetime("us"),
}  # fmt: skip


def drawn_lots(entries: Mapping[str, pl.DataFrame], agreements: pl.DataFrame) -> pl.DataFrame:
    """Return one row a student and drill drawn: `SCHEMA`.

    Parameters
    ----------
    entries
        The notebook's tables as they stand: trial, trial_participant, trial_lot.
    agreements
        Every entry of trial_agreement, those taken back too. A lot whose student's own agreement was taken back holds
        until that moment; what was drawn and done before it was drawn all the same.
    """
    each = ((row, Plan.of_json(row["plan"])) for row in entries["trial"].iter_rows(named=True))
    plans = pl.DataFrame(
        [(row["trial_id"], plan.club_group, plan.episodes, row["ended_on"]) for row, plan in each],
        schema={"trial_id": pl.String, "club_group": pl.String, "uses": pl.Int32, "ends_on": pl.Date},
        orient="row",
    )
    lots = entries["trial_lot"].select("trial_id", "student_id", "arm", drawn_at="entered_at")
    entered = entries["trial_participant"].select("trial_id", "student_id", drawn_on="entered_on")
    return (
        lots.join(entered, on=["trial_id", "student_id"])
        .join(plans, on="trial_id")
        .join(given_up(agreements), on=["trial_id", "student_id"], how="left")
        .with_columns(drill_id=pl.col("arm").str.split(ORDER_MARK))
        .explode("drill_id")
        .filter(pl.col("drill_id") != FREE_PRACTICE)
        .select(pl.col(name).cast(kind) for name, kind in SCHEMA.items())
        .sort("student_id", "drill_id", "drawn_at")
    )


def given_up(agreements: pl.DataFrame) -> pl.DataFrame:
    """Return since when no agreement of the student's own stands: trial_id, student_id, given_up_at (UTC)."""
    own = agreements.filter(pl.col("agreed_by") == "student").sort("number")
    last = own.group_by("first_entry_id", maintain_order=True).last()
    return (
        last.group_by("trial_id", "student_id")
        .agg(stands=(~pl.col("withdrawn")).any(), given_up_at=pl.col("entered_at").max())
        .filter(~pl.col("stands"))
        .drop("stands")
    )
