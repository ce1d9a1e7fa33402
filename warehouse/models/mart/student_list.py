"""One row: one student's goal number, better or worse beyond noise, now and as of the week before.

Both are computed from the history, so that a night and a rebuild agree; only for numbers that are somebody's goal.
"""

from __future__ import annotations

import polars as pl

from warehouse.build.reads_first_blocks import CHANGE_READS, by_kind
from warehouse.domain.change import student_change, student_list
from warehouse.settings.settings import Settings

GOALS = """
with done as (
    select episode.student_id, drill.aim_metric as metric, episode.club_group, count(*) as episodes
    from core.drill_episode as episode
    join raw.drill as drill using (drill_id)
    where drill.aim_metric is not null and episode.club_group is not null
    group by all
),

-- the goal entered; else what the student's drills mostly aim at
goals as (
    select student_id, metric, club_group
    from mart.goal
    union all
    select student_id, metric, club_group
    from done
    anti join mart.goal as goal using (student_id)
    qualify row_number() over (partition by student_id order by episodes desc, metric, club_group) = 1
)

select goals.student_id, goals.metric, goals.club_group, metric.better
from goals
join mart.metric as metric using (metric, club_group)
where metric.better is not null
order by all
"""
READS = {**CHANGE_READS, "goals": GOALS}


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Call each student now and as of the week before."""
    goals, events = frames["goals"], frames["events"]
    blocks = frames["first_blocks"].drop("spread").join(goals, on=["metric", "club_group"], how="semi")
    # The week counts back from the academy's last day, not from that of these numbers.
    last = frames["first_blocks"].select("session_id", "day")
    known = student_list.as_of_week_before(last).select("session_id").unique()

    def called(part: pl.DataFrame) -> pl.DataFrame:
        changes = by_kind(part, events, lambda some, across: student_change.student_change(some, events=across))
        return student_list.calls(changes, goals)

    return student_list.two_weeks_running(called(blocks), called(blocks.join(known, on="session_id", how="semi")))
