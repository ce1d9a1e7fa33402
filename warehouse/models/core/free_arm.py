"""One row: one lesson with free balls that a trial's lot gave, and one metric: free shots before, those balls after.

The analogue of a drill's episode: before is back to the previous drill or the session's start, after reaches to the
next drill or the end, and no further than the trial's number of balls; one club, bay offsets removed.
"""

from __future__ import annotations

import polars as pl

from warehouse.domain.statistics.block_summary import summarise
from warehouse.schema.registry import TABLES
from warehouse.settings.settings import Settings

SHOTS = """
with moments as (
    select
        start.* replace (
            case start.begun_by
                when 'draw' then timezone(site.timezone, timezone('UTC', start."at")) else start."at"
            end as "at"
        ),
        session.session_id,
        session.bay_id,
        session.night,
        lesson.starts_at,
        lesson.ends_at
    from raw.free_start as start
    join raw.lesson as lesson using (student_id)
    join raw.bay as bay using (bay_id)
    join raw.site as site using (site_id)
    join core.session as session on lesson.lesson_id = session.lesson_id
),

-- a tap says it better than the draw, and of two taps the first
starts as (
    select * exclude (starts_at, ends_at)
    from moments
    where "at" >= starts_at and "at" < ends_at and "at"::date = night
    qualify row_number() over (partition by trial_id, session_id order by begun_by = 'draw', "at") = 1
),

windows as (
    select
        starts.*,
        max(drill.begins_at) filter (drill.begins_at <= starts."at") as from_at,
        min(drill.begins_at) filter (drill.begins_at > starts."at") as to_at
    from starts
    left join core.drill_episode as drill on starts.session_id = drill.session_id and drill.kind = 'drill'
    group by all
),

balls as (
    select
        windows.*,
        shot.club,
        shot.club_group,
        shot.usable,
        shot.struck_at_local >= windows."at" as after,
        row_number() over (
            partition by windows.trial_id, windows.session_id, shot.struck_at_local >= windows."at"
            order by shot.struck_at_local, shot.path, shot.line
        ) as nth,
        columns(lambda name: list_contains(getvariable('metrics'), name))
    from windows
    join core.shot as shot on windows.session_id = shot.session_id
    where
        shot.phase = 'free'
        and shot.set_aside_reason is null
        and shot.struck_at_local >= coalesce(windows.from_at, '-infinity')
        and shot.struck_at_local < coalesce(windows.to_at, 'infinity')
),

struck as (
    select trial_id, session_id, count(*) filter (after) as balls
    from balls
    group by all
),

kept as (
    select *
    from balls
    where usable and (not after or nth <= most_balls)
),

-- the club of most of the arm's balls; of those before, where none was hit
clubs as (
    select trial_id, session_id, club
    from kept
    group by trial_id, session_id, after, club
    qualify row_number() over (partition by trial_id, session_id order by after desc, count(*) desc, club) = 1
),

tall as (
    unpivot (from kept semi join clubs using (trial_id, session_id, club))
    on columns(lambda name: list_contains(getvariable('metrics'), name)) into name metric value measured
)

select
    tall.trial_id,
    tall.student_id,
    tall.session_id,
    tall.bay_id,
    tall.night,
    tall.club,
    tall.club_group,
    tall."at" as begins_at,
    tall.begun_by,
    struck.balls,
    tall.most_balls,
    tall.to_at is not null as followed_by_drill,
    tall.metric,
    tall.after,
    tall.measured - mirror_sign(tall.metric, student.handed) * coalesce(epoch.bay_offset, 0) as measured,
    case
        when not coalesce(student.consent_evidence, student.consent) = 'yes' then 'no consent'
        when exists (
            select 1
            from core.interruption as interruption
            where
                interruption.on_date = tall.night
                and coalesce(interruption.club, tall.club) = tall.club
                and (interruption.student_id = tall.student_id or interruption.bay_id = tall.bay_id)
        ) then 'event between'
    end as excluded_reason
from tall
join struck using (trial_id, session_id)
join raw.student as student on tall.student_id = student.student_id
asof left join core.bay_epoch as epoch
    on tall.bay_id = epoch.bay_id and tall.metric = epoch.metric and tall.night >= epoch.from_date
order by all
"""
LATER = """
select
    episode.session_id, episode.club, read.metric, read.next_session_id, read.next_days, read.next_shots,
    read.next_centre, read.next_variance, read.next_spread
from core.drill_episode as episode
join core.episode_metric as read using (episode_id)
where
    episode.student_id in (select student_id from raw.free_start)
    and not episode.followed_by_drill
    and read.next_session_id is not null
"""
READS = {"shots": SHOTS, "later": LATER}
KEY = list(TABLES["core.free_arm"].key)
SIDES = {False: "pre", True: "post"}


def block(shots: pl.DataFrame, after: bool) -> pl.DataFrame:
    """Return the blocks of one side by KEY: <side>_shots, _centre, _variance, _spread."""
    mine = shots.filter(pl.col("after") == after).with_columns(block=pl.struct(KEY).rank("dense").cast(pl.Int64) - 1)
    keys = mine.select(*KEY, "block").unique("block").sort("block")
    found = summarise(mine["measured"].to_numpy(), mine["block"].to_numpy(), keys.height)
    side = SIDES[after]
    return keys.drop("block").with_columns(
        pl.Series(f"{side}_{name}", getattr(found, name)).fill_nan(None)
        for name in ("shots", "centre", "variance", "spread")
    )


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Compare the block before with that of the free balls; what follows the lesson is its episode's next block."""
    shots, columns = frames["shots"], TABLES["core.free_arm"].column_names
    whole = shots.drop("after", "measured").unique(KEY, maintain_order=True)
    for after in SIDES if shots.height else ():
        whole = whole.join(block(shots, after), on=KEY, how="left")
    # An arm that a drill follows has no later session of its own, as a drill that another follows has none.
    later = frames["later"].unique(["session_id", "club", "metric"], maintain_order=True)
    free = whole.filter(~pl.col("followed_by_drill")).select(*KEY, "club").join(
        later, on=["session_id", "club", "metric"]
    ).drop("club")  # fmt: skip
    whole = whole.join(free, on=KEY, how="left")
    if shots.is_empty():
        return whole
    fewest = pl.min_horizontal(pl.col("pre_shots").fill_null(0), pl.col("post_shots").fill_null(0))
    few = pl.when(fewest < settings.episodes.min_block_shots).then(pl.lit("too few shots"))
    return whole.with_columns(
        pl.col("pre_shots", "post_shots").fill_null(0), excluded_reason=pl.coalesce("excluded_reason", few)
    ).select(columns)
