"""One row: one bay, metric and stretch between recalibrations, with what the bay adds to the number."""

from __future__ import annotations

from datetime import date

import polars as pl

from warehouse.domain.bays import offsets, step
from warehouse.settings.settings import Settings

SESSIONS = """
select
    block.student_id,
    student.handed,
    block.club,
    block.bay_id,
    date_trunc('week', block.night)::date as week,
    block.night as day,
    block.metric,
    sum(block.shots)::bigint as shots,
    sum(block.shots * block.centre) / sum(block.shots) as centre,
    sum(block.shots ** 2.0 * coalesce(block.variance, 0)) / sum(block.shots) ** 2 as variance
from core.block as block
join raw.student as student using (student_id)
group by block.session_id, block.student_id, student.handed, block.club, block.bay_id, block.night, block.metric
having sum(block.shots) >= getvariable('min_block_shots')
order by block.session_id, block.club, block.metric
"""
EVENTS = """
select bay_id, on_date
from core.interruption
where bay_id is not null and kind in ('device recalibrated', 'device moved')
"""
READS = {"sessions": SESSIONS, "events": EVENTS}
BEGINNING = date(1900, 1, 1)


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Fit the offsets; the first stretch of a bay begins before all nights, and a step nobody logged begins one."""
    steps = step.find(frames["sessions"], frames["events"]).select("bay_id", "on_date")
    events = pl.concat([frames["events"].with_columns(pl.col("on_date").cast(pl.Date)), steps])
    fitted = offsets.fit_offsets(frames["sessions"], events)
    unlogged = steps.rename({"on_date": "from_date"}).with_columns(begun_by=pl.lit("step nobody logged"))
    return (
        fitted.join(unlogged, on=["bay_id", "from_date"], how="left", maintain_order="left")
        .with_columns(
            begun_by=pl.when(pl.col("from_date").is_null()).then(pl.lit("beginning"))
            .otherwise(pl.col("begun_by").fill_null("event")),
            from_date=pl.col("from_date").fill_null(BEGINNING),
        )
        .select("bay_id", "metric", "from_date", "begun_by", "bay_offset", "ci_low", "ci_high", "overlap_students",
                "comparable_set")
    )  # fmt: skip
