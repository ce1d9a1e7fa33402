"""One row: one thing observed by eye and one delivery number, and how their changes went together."""

from __future__ import annotations

import polars as pl

from warehouse.domain.change import setup_association
from warehouse.schema.metrics import METRICS
from warehouse.settings.settings import Settings

PAIRS = """
with seen as (
    select student_id, observed_at::date as day, measure, unit, avg(value) as value
    from mart.observation
    group by all
),

-- one club a student and group, so that an observation counts once
main_club as (
    select student_id, club_group, club
    from core.first_block
    group by student_id, club_group, club
    qualify row_number() over (partition by student_id, club_group order by count(distinct session_id) desc, club) = 1
),

deliveries as (
    select student_id, night as day, club, club_group, metric, arg_max(centre, (shots, session_id)) as centre,
        arg_max(bay_id, (shots, session_id)) as bay_id
    from core.first_block
    semi join main_club using (student_id, club_group, club)
    semi join seen on first_block.student_id = seen.student_id and first_block.night = seen.day
    group by all
),

steps as (
    select
        seen.measure, seen.unit, deliveries.*,
        seen.value - lag(seen.value) over step as seen_change,
        centre - lag(centre) over step as metric_change,
        lag(seen.day) over step as day_before,
        lag(bay_id) over step as bay_before
    from seen
    join deliveries using (student_id, day)
    window step as (partition by seen.student_id, seen.measure, seen.unit, metric, club_group order by seen.day)
)

select measure, unit, metric, club_group, student_id, seen_change, metric_change
from steps
where seen_change is not null and not exists (
    from core.interruption as event
    where event.on_date > steps.day_before and event.on_date <= steps.day and event.kind <> 'balls changed'
        and (event.student_id = steps.student_id or event.bay_id in (steps.bay_id, steps.bay_before))
        and coalesce(event.club = steps.club, true)
)
order by all
"""
READS = {"pairs": PAIRS}
DELIVERY = [metric.name for metric in METRICS if not metric.of_ball]


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Regress; numbers of the delivery only, what the ball then did follows from them."""
    return setup_association.of_changes(frames["pairs"].filter(pl.col("metric").is_in(DELIVERY)))
