"""What the published file says of those drawn: one row a student (crossover: a student and drill), ready to be read.

A student's outcome is the mean over the first so many episodes after entry, whatever was done in them: that is what "as
drawn" needs. It is the lot's own: within the plan's days of entry, and not after the trial's end. Free balls drawn in a
lesson (core.free_arm) count as a drill does: free shots before, those balls after. Who took the agreement back counts
as missing from that day on; what was measured before stays, as the agreement said. Not here: the estimate.
"""

from __future__ import annotations

from datetime import date

import duckdb
import polars as pl

from warehouse.domain.trials.consort_flow import flow
from warehouse.domain.trials.estimate import PARTICIPANT, PERIOD, read, read_crossover
from warehouse.domain.trials.randomisation import FREE_PRACTICE, ORDER_MARK
from warehouse.notebook.store import Store, current, history
from warehouse.notebook.trial_tables import LOT_GONE
from warehouse.trials.book import trial
from warehouse.trials.drawn import given_up
from warehouse.trials.eligible import kept
from warehouse.trials.plan import Plan

_EPISODES = """
-- One row: an episode of a student drawn, from the day of entry on, with the trial's metric before and after.
with
clubs as (
    select club, avg(centre) as club_mean from core.first_block where metric = $metric group by club
),
arms as (
    select * from core.free_arm where trial_id = $trial_id and metric = $metric
),
usual as (
    select f.student_id, sign(avg(f.centre) - $target) as side
    from core.first_block as f join drawn as d on d.student_id = f.student_id
    where f.metric = $metric and f.night < d.entered_on and ($any or f.club_group = $club_group)
    group by f.student_id
),
-- where free balls were drawn in a lesson they are its episode; what the coach chose after them is none of the trial's,
-- nor, on the day of the draw, what was done before them
logged as (
    select
        e.student_id, e.night, e.begins_at, coalesce(e.drill_id, $free_practice) as treatment, e.club, e.club_group,
        m.pre_centre, m.post_centre, m.next_centre, m.next_days, m.excluded_reason
    from core.drill_episode as e
    join drawn as d on d.student_id = e.student_id
    join core.episode_metric as m on m.episode_id = e.episode_id and m.metric = $metric
    left join arms
        on arms.session_id = e.session_id
        and (e.drill_id is null or e.begins_at > arms.begins_at or e.night = d.entered_on)
    where arms.session_id is null
),
every as (
    from logged
    union all by name
    select
        student_id, night, begins_at, $free_practice as treatment, club, club_group, pre_centre, post_centre,
        next_centre, next_days, excluded_reason
    from arms
),
episodes as (
    select
        e.student_id, e.begins_at, e.treatment, e.pre_centre as before,
        case when $horizon = 'retention' then e.next_centre else e.post_centre end as after,
        coalesce(c.club_mean, 0) as club_mean, u.side
    from every as e
    join drawn as d on d.student_id = e.student_id and e.night >= d.entered_on
    left join clubs as c on c.club = e.club
    left join usual as u on u.student_id = e.student_id
    where
        e.excluded_reason is null
        and ($any or e.club_group = $club_group)
        and e.night < d.entered_on + coalesce(cast($outcome_days as integer), 100000)
        and e.night + (case when $horizon = 'retention' then cast(coalesce(e.next_days, 0) as integer) else 0 end)
        < least(coalesce(cast($ended_on as date) + 1, 'infinity'), coalesce(cast(d.left_on as date), 'infinity'))
)
select
    student_id, begins_at, treatment,
    case when $distance then side * (before - $target) else before - club_mean end as baseline,
    case when $distance then side * (after - $target) else after - club_mean end as outcome
from episodes
order by student_id, begins_at
"""


def episodes_of(
    con: duckdb.DuckDBPyConnection, plan: Plan, drawn: pl.DataFrame, ended_on: date | None = None
) -> pl.DataFrame:
    """Return episodes from entry on: student_id, begins_at, treatment, baseline, outcome (metric's unit).

    Parameters
    ----------
    con : the published file, read-only. drawn : `student_id, entered_on, left_on` (null: the agreement stands).
    ended_on : the trial's last day; None while it runs.

    Notes
    -----
    By the measure of the plan: centre less the club's mean, or distance from the target on the side where the student
    was on days before entry (none: null).
    """
    con.register("drawn", drawn.select("student_id", "entered_on", "left_on"))
    given = {
        "metric": plan.metric, "club_group": plan.club_group, "any": plan.club_group == "any", "target": plan.target,
        "horizon": plan.horizon, "distance": plan.measure == "distance", "free_practice": FREE_PRACTICE,
        "trial_id": plan.trial_id, "outcome_days": plan.outcome_days, "ended_on": ended_on,
    }  # fmt: skip
    try:
        return con.execute(_EPISODES, given).pl()
    finally:
        con.unregister("drawn")


def participants(store: Store, con: duckdb.DuckDBPyConnection, trial_id: str) -> pl.DataFrame:
    """Return those drawn with what they did and what was measured: `PARTICIPANT`, or `PERIOD` for a crossover."""
    entry, plan = trial(store, trial_id)
    lots = _drawn(store, trial_id)
    found = episodes_of(con, plan, lots, entry["ended_on"])
    return _periods(plan, lots, found) if plan.kind == "crossover" else _students(plan, lots, found)


def _drawn(store: Store, trial_id: str) -> pl.DataFrame:
    """Lots with the day of entry and the day on which the student's own agreement was taken back, if it was."""
    mine = pl.col("trial_id") == trial_id
    entered = current(store, "trial_participant").filter(mine).select("student_id", "entered_on")
    left = given_up(history(store, "trial_agreement")).filter(mine)
    lots = current(store, "trial_lot").filter(mine).select("student_id", "stratum", "block", "arm")
    left = left.select("student_id", left_on=pl.col("given_up_at").dt.date())
    return lots.join(entered, on="student_id").join(left, on="student_id", how="left")


def _students(plan: Plan, lots: pl.DataFrame, found: pl.DataFrame) -> pl.DataFrame:
    drills = [name for name in plan.treatments if name != FREE_PRACTICE]
    # Everybody practises freely too; it is what was done only of those drawn to it.
    counts = pl.col("treatment").is_in(drills) | (
        (pl.col("treatment") == FREE_PRACTICE) & (pl.col("arm") == FREE_PRACTICE)
    )
    own = (
        found.join(lots.select("student_id", "arm"), on="student_id")
        .filter(counts)
        .sort("student_id", "begins_at")
        .group_by("student_id", maintain_order=True)
        .head(plan.episodes)
        .group_by("student_id")
        .agg(
            pl.col("treatment").sort_by("begins_at").first().alias("done"),
            pl.col("baseline").filter(pl.col("outcome").is_not_null()).mean(),
            pl.col("outcome").filter(pl.col("baseline").is_not_null()).mean(),
        )
    )
    return lots.join(own, on="student_id", how="left").sort("stratum", "block", "student_id").select(*PARTICIPANT)


def _periods(plan: Plan, lots: pl.DataFrame, found: pl.DataFrame) -> pl.DataFrame:
    places = (
        lots.with_columns(order=pl.col("arm").str.split(ORDER_MARK))
        .drop("arm")
        .with_columns(period=pl.int_ranges(1, pl.col("order").list.len() + 1))
        .explode("order", "period")
        .rename({"order": "arm"})
    )
    own = (
        found.sort("student_id", "treatment", "begins_at")
        .group_by("student_id", "treatment", maintain_order=True)
        .head(plan.episodes)
        .group_by("student_id", "treatment")
        .agg(pl.col("baseline", "outcome").mean())
        .with_columns(done=pl.col("treatment"))
    )
    whole = places.join(own, left_on=["student_id", "arm"], right_on=["student_id", "treatment"], how="left")
    return whole.sort("stratum", "block", "student_id", "period").select(*PERIOD)


def result(store: Store, con: duckdb.DuckDBPyConnection, trial_id: str, critical: float | None = None) -> pl.DataFrame:
    """Return the differences found, as drawn and as done: `trial_estimate.RESULT`."""
    _, plan = trial(store, trial_id)
    return differences(plan, participants(store, con, trial_id), critical)


def differences(plan: Plan, rows: pl.DataFrame, critical: float | None = None) -> pl.DataFrame:
    """Return the same of a plan's `participants`."""
    return (read_crossover if plan.kind == "crossover" else read)(rows, plan.treatments[0], critical)


def flow_of(store: Store, trial_id: str, rows: pl.DataFrame) -> pl.DataFrame:
    """Return the flow of a parallel trial's `participants`: `trial_flow.FLOW`.

    Who declined before the draw, and who was looked at and is outside the plan, count as assessed.
    """
    declined = current(store, "trial_decline").filter(
        (pl.col("trial_id") == trial_id) & ~pl.col("student_id").is_in(rows["student_id"].to_list())
    )
    refused = declined.sort("at").unique("student_id", keep="last").select("student_id", "reason", eligible=True)
    drawn = rows.select("student_id", reason=pl.lit(None, dtype=pl.String), eligible=True)
    outside = kept(store, trial_id).join(drawn, on="student_id", how="anti").with_columns(eligible=False)
    gone = current(store, LOT_GONE).filter(pl.col("trial_id") == trial_id)["arm"].to_list()
    return flow(pl.concat([outside, refused.join(outside, on="student_id", how="anti"), drawn]), rows, gone)
