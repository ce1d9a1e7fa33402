"""One row: one drill, one cohort's drills, or all free practice, with the mean parts of the change in carry."""

from __future__ import annotations

import polars as pl

from warehouse.domain.delivery import carry_decomposition
from warehouse.settings.settings import Settings

READS = {
    "episodes": """
with episodes as (
    select
        source.* exclude (spin_source),
        episode.night
    from mart.carry_source as source
    join core.drill_episode as episode using (episode_id)
),

members as (
    select student_id, cohort, from_date, to_date
    from mart.cohort_member
    union all
    select student_id, 'all students', null, null
    from raw.student
),

cohorts as (
    select distinct
        'cohort' as grouped_by,
        members.cohort as group_id,
        episodes.*
    from episodes
    join members
        on episodes.student_id = members.student_id
        and episodes.night >= coalesce(members.from_date, episodes.night)
        and episodes.night <= coalesce(members.to_date, episodes.night)
    where episodes.drill_id is not null
)

select
    'drill' as grouped_by,
    drill_id as group_id,
    *
from episodes
where drill_id is not null
union all by name
select
    'free practice' as grouped_by,
    'free practice' as group_id,
    *
from episodes
where drill_id is null
union all by name
select *
from cohorts
order by all
"""
}


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Average by student, then over students."""
    return carry_decomposition.summary(frames["episodes"])
