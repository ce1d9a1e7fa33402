"""One row: one sentence on a student's latest session with a club group: what costs carry or direction."""

from __future__ import annotations

from collections.abc import Iterator

import polars as pl

from warehouse.domain import air, reading
from warehouse.settings import Settings

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
)

select
    latest.student_id,
    latest.club_group,
    latest.session_id,
    site.altitude_m,
    block.metric,
    sum(
        block.shots * (block.centre - mirror_sign(block.metric, student.handed) * coalesce(epoch.bay_offset, 0))
    ) / sum(block.shots) as centre
from latest
join core.block as block using (session_id, club_group)
join raw.student as student on latest.student_id = student.student_id
join raw.bay as bay on block.bay_id = bay.bay_id
join raw.site as site on bay.site_id = site.site_id
asof left join core.bay_epoch as epoch
    on block.bay_id = epoch.bay_id and block.metric = epoch.metric and block.night >= epoch.from_date
group by latest.student_id, latest.club_group, latest.session_id, site.altitude_m, block.metric
"""
}
KEY = ["student_id", "club_group", "session_id", "altitude_m"]


def lines(centres: pl.DataFrame, settings: Settings) -> Iterator[dict]:
    """Yield the sentences of every student and club group."""
    limits = settings.flight
    for (student_id, club_group, session_id, altitude_m), part in centres.group_by(KEY, maintain_order=True):
        high = limits.student_attack_high.get(str(student_id), limits.attack_high.get(str(club_group), 0.0))
        told = reading.read_delivery(
            dict(zip(part["metric"], part["centre"], strict=True)),
            str(club_group),
            air_density=float(air.density(altitude_m=altitude_m)),
            attack_high=high,
            units=settings.units.system,
        )
        for place, line in enumerate(told, start=1):
            yield {
                "student_id": student_id, "club_group": club_group, "session_id": session_id, "place": place,
                "kind": line.kind, "metric": line.metric, "cost": line.cost, "sentence": line.text,
            }  # fmt: skip


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Read every student's latest session."""
    told = list(lines(frames["centres"].sort(*KEY, "metric"), settings))
    return pl.DataFrame(told) if told else pl.DataFrame(schema={"student_id": pl.String})
