"""What the published file says a trial would need: the academy's own spread, who comes how often, what is used.

Not here: the calculation (warehouse/domain/trials/power.py, trial_value.py), the notebook.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import Any

import duckdb
import numpy as np
import polars as pl

from warehouse.domain.statistics import variance_components
from warehouse.domain.trials import power, value_of_information
from warehouse.domain.trials.power import Design, Spread

RECENT_WEEKS = 12
LEAST_HALVES = 20
SIZES = (10, 16, 20, 30, 40, 60, 80, 120)

_BLOCKS = """
-- One row: the first block of a drill-free session, less its club's mean.
select student_id, night, shots, variance, centre - avg(centre) over (partition by club) as centre
from core.first_block
where metric = $metric and not drilled and ($any or club_group = $club_group) and variance is not null
"""
_HALVES = """
-- One row: a free-practice episode, its two halves' difference and the error variance that its shots explain.
select m.post_centre - m.pre_centre as change, m.pre_variance + m.post_variance as noise
from core.drill_episode as e join core.episode_metric as m on m.episode_id = e.episode_id
where
    e.kind = 'free_practice' and m.metric = $metric and m.excluded_reason is null
    and ($any or e.club_group = $club_group)
    and m.pre_centre is not null and m.post_centre is not null and m.pre_variance + m.post_variance is not null
"""
_VISITS = """
-- One row: a student who may take part, with how often they came to a lesson lately and hit such a club.
with
last as (select max(night) as night from core.session),
visits as (
    select f.student_id, count(distinct f.night) as days
    from core.first_block as f, last
    where
        f.coached and f.metric = $metric and ($any or f.club_group = $club_group)
        and f.night > last.night - 7 * $weeks
    group by f.student_id
)
select v.student_id, v.days / $weeks as per_week
from visits as v join mart.student as s on s.student_id = v.student_id
where s.in_evidence
order by v.student_id
"""
_USES = """
-- One row: a drill and club group, with how often a week it was used lately.
with last as (select max(night) as night from core.session)
select e.drill_id, e.club_group, count(*) / $weeks as uses_per_week
from core.drill_episode as e, last
where e.kind = 'drill' and e.club_group is not null and e.night > last.night - 7 * $weeks
group by e.drill_id, e.club_group
order by e.drill_id, e.club_group
"""
_NEEDING = """
-- One row: a metric and club group aimed at toward a target, with the share of students a smallest change away or more.
select f.metric, f.club_group, avg((f.gap >= e.matters_from)::int) as share
from mart.drill_forecast as f
join mart.drill_effect as e
    on e.drill_id = f.drill_id and e.metric = f.metric and e.measure = f.measure and e.club_group = f.club_group
where e.is_aim and e.horizon = 'transfer' and f.measure = 'distance' and f.gap is not null
group by f.metric, f.club_group
"""


def spread_of(con: duckdb.DuckDBPyConnection, metric: str, club_group: str) -> Spread:
    """Variance components of the metric from drill-free sessions, bay offsets removed.

    Shots, sessions and students from first blocks; `drift` from the two halves of free practice, what their difference
    varies beyond their shots, and taken off between sessions, which holds it too. `response` is 0: how students differ
    in what a drill does to them is not known before; a plan may set it.

    Raises
    ------
    ValueError
        Too few students came twice for any of it to be told.
    """
    given = {"metric": metric, "club_group": club_group, "any": club_group == "any"}
    rows = con.execute(_BLOCKS, given).pl()
    halves = con.execute(_HALVES, given).pl()
    fit = variance_components.from_blocks(rows["student_id"], rows["centre"], rows["variance"], rows["shots"])
    if not (fit.within > 0 and fit.between_sessions >= 0 and fit.between_students >= 0):
        raise ValueError(f"too few free-practice sessions with {metric}, {club_group}, to plan from")
    drift = 0.0
    if halves.height >= LEAST_HALVES:
        drift = max(float(np.var(halves["change"].to_numpy(), ddof=1) - halves["noise"].to_numpy().mean()) / 2, 0.0)
    return Spread(fit.within, max(fit.between_sessions - drift, 0.0), fit.between_students, drift=drift)


def candidates(
    con: duckdb.DuckDBPyConnection, metric: str, club_group: str, weeks: int = RECENT_WEEKS,
    among: Collection[str] | None = None,
) -> pl.DataFrame:  # fmt: skip
    """Students who may take part and their days a week of late: student_id, per_week.

    `among`: to whom the trial is narrowed (eligible.among); None: open to all.
    """
    given = {"metric": metric, "club_group": club_group, "any": club_group == "any", "weeks": weeks}
    every = con.execute(_VISITS, given).pl()
    return every if among is None else every.filter(pl.col("student_id").is_in(list(among)))


def plan_of(
    con: duckdb.DuckDBPyConnection, metric: str, club_group: str, matters_from: float, design: Design,
    agree: float = 0.7, response: float = 0.0, times: float = 1.0, among: Collection[str] | None = None,
) -> dict[str, Any]:  # fmt: skip
    """Return what a trial needs: `students`, `weeks`, `candidates`, `spread`, `curve` (trial_power.CURVE), `sentence`.

    `students` and `weeks` are None where no number, or not this academy's, would do. `times`: how many times the
    students of a trial without looks its looks need; everything returned counts it. The spread is all students', also
    where only those `among` may take part.
    """
    known = spread_of(con, metric, club_group)
    own = replace(known, response=response)
    visits = candidates(con, metric, club_group, among=among)["per_week"].to_numpy()
    students = power.students_needed(matters_from, design, own, inflation=times)
    # All who are drawn must be here and agree; the trial is over once those expected to be followed have been.
    enough = visits.size * agree >= students
    weeks = power.weeks_needed(students * design.followed, visits, design, agree) if enough else float("inf")
    sizes = [n for n in SIZES if power.degrees_of_freedom(n, design) >= 1]
    never = float("inf")
    return {
        "students": None if students == never else int(students), "weeks": None if weeks == never else weeks,
        "candidates": int(visits.size), "spread": own,
        "curve": power.curve(matters_from, design, own, sizes, visits, agree, times),
        "sentence": _sentence(students, weeks, int(visits.size), agree, design, own, times),
    }  # fmt: skip


def curve(
    con: duckdb.DuckDBPyConnection, metric: str, club_group: str, size: float, design: Design, agree: float,
    students: Sequence[int], times: float = 1.0, among: Collection[str] | None = None,
) -> pl.DataFrame:  # fmt: skip
    """Return what numbers of students would tell of a difference of a size (trial_power.CURVE); as `plan_of`."""
    visits = candidates(con, metric, club_group, among=among)["per_week"].to_numpy()
    return power.curve(size, design, spread_of(con, metric, club_group), students, visits, agree, times)


def _sentence(
    students: float, weeks: float, there: int, agree: float, design: Design, spread: Spread, times: float
) -> str:  # fmt: skip
    if students == float("inf"):
        return "No number of students would tell a change that small."
    said = f"{students:.0f} students, {design.episodes} episode{'s' if design.episodes > 1 else ''} each, find"
    said += " the smallest change that matters four times in five"
    if weeks < float("inf"):
        about = "a week" if weeks < 1.5 else f"{weeks:.0f} weeks"
        return f"{said}; about {about} at this academy's pace."
    can = max(int(there * agree), 1)
    least = power.detectable(can / times, design, spread)
    there_is = f"about {can} of {there} students would take part here"
    if least == float("inf"):
        return f"{said}; {there_is}, too few to tell anything."
    return f"{said}; {there_is}, who would tell a change of {least:.2g} or more, and nothing of smaller ones."


def what_next(
    con: duckdb.DuckDBPyConnection, held: frozenset[str] = frozenset(), design: Design | None = None, times: float = 1.0
) -> pl.DataFrame:  # fmt: skip
    """Rank the trials this academy could draw: `trial_value.CANDIDATE`, with students and weeks where they can be told.

    `held`: drills that nobody should be given now. `times`: what looks cost (plan_of).
    """
    effects = con.execute("select * from mart.drill_effect where is_aim").pl()
    uses = con.execute(_USES, {"weeks": RECENT_WEEKS}).pl()
    needing = con.execute(_NEEDING).pl()
    sizes = []
    here = (pl.col("horizon") == "transfer") & (pl.col("club_group") != "any") & (pl.col("matters_from") > 0)
    aims = effects.filter(here)
    key = ["metric", "club_group", "matters_from"]
    for metric, group, matters in aims.select(key).unique(maintain_order=True).iter_rows():
        try:
            needs = plan_of(con, metric, group, matters, design or Design(), times=times)
        except ValueError:
            continue
        sizes.append({"metric": metric, "club_group": group, "students": needs["students"], "weeks": needs["weeks"]})
    schema = {"metric": pl.String, "club_group": pl.String, "students": pl.Int64, "weeks": pl.Float64}
    return value_of_information.rank(effects, uses, needing, pl.DataFrame(sizes, schema=schema), held)
