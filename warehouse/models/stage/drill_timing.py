"""One row: one drill of a lesson, with the moments that the log says and those that the balls tell; and lessons whose
pauses look like a drill that nobody logged."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import numpy as np
import polars as pl

from warehouse.domain.drill_log.placement import Lesson, Mark, place
from warehouse.settings.settings import Settings

BALLS = """
with shots as (
    select
        *,
        -- where a bay is shared, another's turn is no pause
        date_diff('millisecond', lag(struck_at_local) over stay, struck_at_local) / 1000 as waited
    from stage.attributed_shot
    window stay as (partition by bay_id, night order by struck_at_local, path, line)
)

select
    shots.night,
    shots.site_id,
    shots.lesson_id,
    shots.struck_at_local,
    shots.waited
from shots
join raw.lesson as lesson using (lesson_id)
where shots.unattributed_reason is null and shots.night = lesson.starts_at::date
order by shots.night, shots.site_id, shots.lesson_id, shots.struck_at_local
"""
DRILLS = """
select
    drill.lesson_id,
    drill.drill_id,
    drill.position,
    drill.starts_at,
    case when not drill.end_assumed then drill.ends_at end as said_ends_at
from stage.logged_drill as drill
semi join stage.attributed_shot as shot on drill.lesson_id = shot.lesson_id
order by drill.lesson_id, drill.position
"""
UNTIMED = "select distinct lesson_id from raw.drill_log where starts_at is null"
READS = {"balls": BALLS, "drills": DRILLS, "untimed": UNTIMED}
SCHEMA = {
    "lesson_id": pl.String, "drill_id": pl.String, "position": pl.Int32, "read_starts_at": pl.Datetime("us"),
    "read_ends_at": pl.Datetime("us"), "timing": pl.String, "timing_doubt": pl.Float64,
}  # fmt: skip


def _since(moments: pl.Series, start: datetime) -> np.ndarray:
    """Return seconds since a moment, NaN for none."""
    return (moments.cast(pl.Datetime("us")) - start).dt.total_microseconds().cast(pl.Float64).to_numpy() / 1e6


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Place the drills, a night's lessons of a site together."""
    by_lesson = {
        lesson: part for (lesson,), part in frames["drills"].group_by(["lesson_id"], maintain_order=True)
    }  # fmt: skip
    untimed = set(frames["untimed"]["lesson_id"])
    found: list[dict[str, Any]] = []
    for _, night in frames["balls"].group_by(["night", "site_id"], maintain_order=True):
        lessons, said = [], []
        for (lesson_id,), balls in night.group_by(["lesson_id"], maintain_order=True):
            if lesson_id in untimed:
                continue
            start: datetime = balls["struck_at_local"][0]
            drills = by_lesson.get(lesson_id)
            marks = [] if drills is None else [
                Mark(float(begin), float(end))
                for begin, end in zip(_since(drills["starts_at"], start), _since(drills["said_ends_at"], start),
                                      strict=True)
            ]  # fmt: skip
            waited = balls["waited"].to_numpy()[1:]
            lessons.append(Lesson(_since(balls["struck_at_local"], start), marks, waited))
            said.append((lesson_id, start, drills))
        place(lessons)
        for lesson, (lesson_id, start, drills) in zip(lessons, said, strict=True):
            for at, reading in enumerate(lesson.readings):
                found.append(
                    {
                        "lesson_id": lesson_id,
                        "drill_id": None if drills is None else drills["drill_id"][at],
                        "position": None if drills is None else drills["position"][at],
                        "read_starts_at": _moment(start, reading.begin),
                        "read_ends_at": _moment(start, reading.end),
                        "timing": reading.timing,
                        "timing_doubt": reading.doubt,
                    }
                )
    return pl.DataFrame(found, schema=SCHEMA)


def _moment(start: datetime, seconds: float) -> datetime | None:
    return None if np.isnan(seconds) else start + timedelta(seconds=seconds)
