"""Who may take part beyond what every trial asks: members of its cohorts, students whose goal is its number.

Members are those of mart.cohort_member on the day of entry: enrolments, and the one cohort of the student table only
for students without any. A goal is the latest in the notebook. Not here: consent, holds and agreement (trial_draw.py).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

import duckdb
import polars as pl

from warehouse.notebook.store import Store, current, enter
from warehouse.notebook.trial_tables import INELIGIBLE
from warehouse.schema.metrics import METRIC
from warehouse.trials.plan import Plan

MEMBERSHIP = {"cohort": pl.String, "from_date": pl.Date, "to_date": pl.Date}
NO_MEMBERSHIP = pl.DataFrame(schema=MEMBERSHIP)
REASONS = {"cohort": "not in a cohort of the trial", "goal": "the goal is another number"}
"""What the notebook keeps of who was looked at and may not take part -> in words, as the flow counts them."""

_MEMBERSHIPS = """
-- One row: a student's time in a cohort, the first first.
select cohort, from_date, to_date from mart.cohort_member where student_id = ? order by from_date, cohort
"""
_MEMBERS = """
-- One row: a student who is in one of these cohorts on a day.
select distinct student_id
from mart.cohort_member
where list_contains($cohorts, cohort) and $day >= from_date and $day <= coalesce(to_date, $day)
"""
_COHORTS = "select distinct cohort from mart.cohort_member order by cohort"


@dataclass(frozen=True)
class Ineligible:
    """Why a student may not take part: a reason of `REASONS`, and a sentence with the day it was judged by."""

    reason: str
    sentence: str


def cohorts_of(con: duckdb.DuckDBPyConnection) -> list[str]:
    """Return the cohorts that students are or were in."""
    return [row[0] for row in con.execute(_COHORTS).fetchall()]


def memberships(con: duckdb.DuckDBPyConnection, student_id: str) -> pl.DataFrame:
    """Return a student's times in cohorts: `MEMBERSHIP`."""
    return con.execute(_MEMBERSHIPS, [student_id]).pl()


def goals(store: Store) -> dict[str, str]:
    """Return the metric of each student's latest goal in the notebook."""
    return dict(current(store, "goal").select("student_id", "metric").iter_rows())


def why_not(
    plan: Plan, student_id: str, member_of: pl.DataFrame, goal: str | None, on: date
) -> Ineligible | None:  # fmt: skip
    """Say why a student may not take part; None: may.

    Parameters
    ----------
    member_of : the student's `memberships`. goal : the metric of the student's goal, None without one.
    on : the day of entry, by which membership is judged.
    """
    if plan.cohorts:
        there = member_of.filter((pl.col("from_date") <= on) & (pl.col("to_date").fill_null(on) >= on))
        if not set(there["cohort"]) & set(plan.cohorts):
            now = [f"{name} since {since}" for name, since in there.select("cohort", "from_date").iter_rows()]
            return Ineligible(
                "cohort",
                f"{student_id} may not take part: the trial is for {_either(plan.cohorts)}, and on {on} the student is "
                f"in {', '.join(now) or 'no cohort'} (enrolments count before the student table).",
            )
    if plan.goal and goal != plan.metric:
        other = f"is {METRIC[goal].label}" if goal else "is not in the notebook"
        return Ineligible(
            "goal",
            f"{student_id} may not take part: the trial is for students whose goal is {METRIC[plan.metric].label}, and "
            f"on {on} the student's goal {other}.",
        )
    return None


def _either(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"


def who(plan: Plan) -> str:
    """Say to whom a trial is narrowed; empty where it is open to all."""
    return described(plan.cohorts, plan.metric if plan.goal else None)


def described(cohorts: Sequence[str], goal: str | None) -> str:
    """Say who may take part by cohorts and by goal (a metric), as a part of a sentence; empty: all."""
    parts = [f"in {_either(cohorts)} on the day of entry"] if cohorts else []
    parts += [f"whose goal in the notebook is {METRIC[goal].label}"] if goal else []
    return "students " + " and ".join(parts) if parts else ""


def among(
    store: Store, con: duckdb.DuckDBPyConnection, metric: str, cohorts: Collection[str], goal: bool, on: date
) -> tuple[str, ...] | None:  # fmt: skip
    """Return the students who may take part on a day, in order; None: the trial is open to all.

    Raises
    ------
    ValueError
        A cohort is not known, or nobody could take part; the message says what to choose.
    """
    known = cohorts_of(con)
    unknown = [name for name in cohorts if name not in known]
    if unknown:
        raise ValueError(f"there is no cohort {', '.join(unknown)}; cohorts: {', '.join(known) or 'none yet'}")
    if not cohorts and not goal:
        return None
    found: set[str] | None = None
    if cohorts:
        found = {row[0] for row in con.execute(_MEMBERS, {"cohorts": list(cohorts), "day": on}).fetchall()}
        if not found:
            raise ValueError(f"nobody is in {_either(list(cohorts))} on {on}, so nobody could take part")
    if goal:
        theirs = {student for student, number in goals(store).items() if number == metric}
        if not theirs:
            raise ValueError(
                f"nobody's goal in the notebook is {METRIC[metric].label}, so nobody could take part; enter goals "
                "first, or plan without the goal"
            )
        found = theirs if found is None else found & theirs
        if not found:
            raise ValueError(
                f"nobody in {_either(list(cohorts))} on {on} has {METRIC[metric].label} for a goal; plan without one "
                "of the two"
            )
    return tuple(sorted(found or ()))


def keep(store: Store, *, trial_id: str, student_id: str, reason: str, on: date, by: str) -> None:
    """Keep that a student was looked at and may not take part, once for each reason: the flow counts it as assessed."""
    there = current(store, INELIGIBLE).filter((pl.col("trial_id") == trial_id) & (pl.col("student_id") == student_id))
    if reason not in set(there["reason"]):
        values = {"trial_id": trial_id, "student_id": student_id, "reason": reason, "on_date": on}
        enter(store, INELIGIBLE, by, values)


def kept(store: Store, trial_id: str) -> pl.DataFrame:
    """Return who was looked at and may not take part, one row a student, the latest reason: student_id, reason."""
    mine = current(store, INELIGIBLE).filter(pl.col("trial_id") == trial_id).sort("entered_at")
    return mine.unique("student_id", keep="last", maintain_order=True).select(
        "student_id", pl.col("reason").replace(REASONS)
    )
