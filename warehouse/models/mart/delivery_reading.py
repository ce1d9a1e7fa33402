"""One row: one sentence on a student's latest session with a club group: what costs carry or direction."""

from __future__ import annotations

import polars as pl

from warehouse.build import reads_deliveries
from warehouse.settings.settings import Settings

READS = {
    "centres": """
with latest as (
    select
        block.student_id,
        block.club_group,
        max_by(block.session_id, session.begins_at) as session_id
    from core.block as block
    join core.session as session using (session_id)
    where block.night > (select max(night) - 60 from core.session)
    group by all
),

airs as (
    select
        session_id,
        avg(air_density::decimal(18, 9)) as air_density
    from core.shot
    where night > (select max(night) - 60 from core.session)
    group by session_id
)

select
    latest.student_id,
    latest.club_group,
    latest.session_id,
    airs.air_density,
    block.metric,
    sum(
        block.shots * (block.centre - mirror_sign(block.metric, student.handed) * coalesce(epoch.bay_offset, 0))
    ) / sum(block.shots) as centre
from latest
join core.block as block using (session_id, club_group)
join raw.student as student on latest.student_id = student.student_id
join airs using (session_id)
asof left join core.bay_epoch as epoch
    on block.bay_id = epoch.bay_id and block.metric = epoch.metric and block.night >= epoch.from_date
group by latest.student_id, latest.club_group, latest.session_id, airs.air_density, block.metric
"""
}
KEY = ["student_id", "club_group", "session_id", "air_density"]


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Read every student's latest session, all in one."""
    return reads_deliveries.read(frames["centres"], KEY, settings).drop("air_density")
