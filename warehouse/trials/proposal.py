"""What a trial would ask and what it would take, from the published file: the steps from a question to a plan.

Not here: the calculation (planning.py), what is written when it begins (book.py).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import duckdb
import polars as pl

from warehouse.domain.trials import group_sequential
from warehouse.domain.trials.power import Design
from warehouse.domain.trials.randomisation import FREE_PRACTICE
from warehouse.notebook.store import Store, current
from warehouse.trials import planning
from warehouse.trials.plan import Plan

LOOKS_PLANNED = 3
FEWEST_A_GROUP = 6
OUTCOME_DAYS = 14
"""Days from entry in which a lot's own episode is waited for, for each time that it is done."""
WEEKS_UNKNOWN = 12.0

_AIMS = """
-- One row: a drill's aim in one club group, with what better is.
select
    effect.drill_id, drill.name, effect.metric, effect.measure, effect.club_group, effect.better, effect.matters_from,
    effect.verdict, drill.aim_target, drill.caution
from mart.drill_effect as effect
join mart.drill as drill using (drill_id)
where effect.is_aim and effect.horizon = 'transfer' and effect.club_group <> 'any'
order by effect.drill_id, effect.club_group
"""
_GAPS = """
-- One row: a student who may be evidence, with how far the mean of the latest three first blocks is from the aim.
with blocks as (
    select student_id, night, centre, centre - avg(centre) over (partition by club) as level
    from core.first_block
    where metric = $metric and ($club_group = 'any' or club_group = $club_group)
),
latest as (
    select * from blocks qualify row_number() over (partition by student_id order by night desc) <= 3
)
select
    latest.student_id,
    case when $distance then abs(avg(latest.centre) - $target) else -$better * avg(latest.level) end as gap
from latest join mart.student as student on latest.student_id = student.student_id
where student.in_evidence
group by latest.student_id
order by latest.student_id
"""


@dataclass(frozen=True)
class Question:
    """What is asked: the treatments (the first is what the others are compared with) and the number they are read by.

    `better` 1 where more is better, else -1; `cautions` by name of drill.
    """

    treatments: tuple[str, ...]
    metric: str
    measure: str
    club_group: str
    better: float
    matters_from: float
    target: float
    cautions: dict[str, str]


def question_of(con: duckdb.DuckDBPyConnection, drills: list[str], metric: str = "", club_group: str = "") -> Question:
    """Turn a choice of drills into a question.

    Raises
    ------
    ValueError
        A drill is not known, they share no aim, or one is known to do harm; the message says what to choose.
    """
    aims = con.execute(_AIMS).pl()
    wanted = [drill for drill in dict.fromkeys(drills) if drill != FREE_PRACTICE]
    for drill in wanted:
        if aims.filter(pl.col("drill_id") == drill).is_empty():
            known = ", ".join(aims["drill_id"].unique().sort())
            raise ValueError(f"{drill!r} has no aim with episodes; drills that can be tried: {known or 'none yet'}")
    both = aims.filter(
        pl.col("drill_id").is_in(wanted)
        & ((pl.col("metric") == metric) | (metric == ""))
        & ((pl.col("club_group") == club_group) | (club_group == ""))
    )
    number = ["metric", "club_group"]
    shared = both.group_by(number).len().filter(pl.col("len") == len(wanted)).sort(number)
    if not wanted or shared.is_empty():
        pairs = ", ".join(f"{d} ({m}, {g})" for d, m, g in aims.select("drill_id", "metric", "club_group").iter_rows())
        raise ValueError(f"these drills share no aim in one club group, so nothing can be compared; aims: {pairs}")
    if shared.height > 1:
        choices = ", ".join(f"--metric {m} --club-group {g}" for m, g in shared.select(number).iter_rows())
        raise ValueError(f"more than one number could be asked about; choose one of: {choices}")
    rows = both.join(shared, on=number)
    harmful = rows.filter(pl.col("verdict") == "wrong way")["drill_id"].to_list()
    if harmful:
        raise ValueError(f"{', '.join(harmful)} is known to go the wrong way: no lot may give it to a student")
    first = rows.row(0, named=True)
    treatments = ((FREE_PRACTICE,) if FREE_PRACTICE in drills else ()) + tuple(wanted)
    return Question(
        treatments, first["metric"], first["measure"], first["club_group"], 1.0 if first["better"] == "up" else -1.0,
        first["matters_from"], float(rows["aim_target"].drop_nulls().first() or 0.0),  # type: ignore[arg-type]
        {row["name"]: row["caution"] for row in rows.iter_rows(named=True) if row["caution"]},
    )  # fmt: skip


def gaps(
    con: duckdb.DuckDBPyConnection, *, metric: str, club_group: str, measure: str, better: float, target: float
) -> pl.DataFrame:
    """Return how far students who may be evidence stand from an aim: student_id, gap (metric's unit, more is
    farther)."""
    given = {
        "metric": metric, "club_group": club_group, "distance": measure == "distance", "better": better,
        "target": target,
    }  # fmt: skip
    return con.execute(_GAPS, given).pl()


@cache
def looks_cost(rule: str) -> float:
    """Return how many times the students of a trial without looks one with this rule needs."""
    if rule in group_sequential.SPENDINGS:
        return group_sequential.inflation(rule, LOOKS_PLANNED)
    return group_sequential.inflation_always_valid(LOOKS_PLANNED)


def needs_of(
    con: duckdb.DuckDBPyConnection, asked: Question, design: Design, agree: float, rule: str,
    among: Collection[str] | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Return what the trial needs with its looks: planning.plan_of, with `times` (looks_cost), `least` students that
    can be planned, and `size`, the students to plan unless somebody says otherwise.

    Raises
    ------
    ValueError
        The published file cannot say.
    """
    times = looks_cost(rule)
    needs = planning.plan_of(
        con, asked.metric, asked.club_group, asked.matters_from, design, agree, times=times, among=among
    )
    least = FEWEST_A_GROUP * (1 if design.kind == "crossover" else design.arms)
    can = max(round(needs["candidates"] * agree), least)
    return needs | {"times": times, "least": least, "size": max(min(needs["students"] or can, can), least)}


def told_by(
    con: duckdb.DuckDBPyConnection, asked: Question, design: Design, agree: float, rule: str,
    students: Sequence[int], among: Collection[str] | None = None, of: float = 1.0,
) -> pl.DataFrame:  # fmt: skip
    """Return what numbers of students tell with the rule's looks: rows of `trial_power.CURVE`; of a difference that is
    `of` times the smallest that matters."""
    return planning.curve(
        con, asked.metric, asked.club_group, of * asked.matters_from, design, agree, students, looks_cost(rule), among
    )


def next_id(store: Store) -> str:
    """Return the id a new trial gets."""
    taken = set(current(store, "trial")["trial_id"])
    return next(f"T{n}" for n in range(1, len(taken) + 2) if f"T{n}" not in taken)


def plan(
    con: duckdb.DuckDBPyConnection, asked: Question, design: Design, *, trial_id: str, title: str, students: int,
    weeks: float, rule: str, free_practice_balls: int, cohorts: Sequence[str] = (), goal: bool = False,
    among: Collection[str] | None = None,
) -> Plan:  # fmt: skip
    """Return the plan, those who may take part (`among`; None: all) halved by starting gap where they stand today.

    Raises
    ------
    ValueError
        Nobody has a session with the number, or the plan cannot be carried out.
    """
    named = {name: getattr(asked, name) for name in ("metric", "club_group", "measure", "better", "target")}
    every = gaps(con, **named)
    middle = (every if among is None else every.filter(pl.col("student_id").is_in(list(among))))["gap"].median()
    if middle is None:
        raise ValueError(
            f"nobody who may take part as evidence has a session with {asked.metric}, {asked.club_group}; choose others"
        )
    return Plan(
        trial_id=trial_id, title=title, kind=design.kind, horizon=design.horizon, treatments=asked.treatments,
        matters_from=asked.matters_from, students=students, episodes=design.episodes, weeks=weeks,
        gap_middle=float(middle), followed=design.followed, rule=rule,  # type: ignore[arg-type]
        free_practice_balls=free_practice_balls, cohorts=tuple(cohorts), goal=goal,
        outcome_days=OUTCOME_DAYS * (design.episodes if design.kind == "parallel" else len(asked.treatments)), **named,
    )  # fmt: skip
