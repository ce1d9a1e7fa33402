"""One row: one drill, club group and outcome: mishits and unmeasured shots before and after."""

from __future__ import annotations

import polars as pl

from warehouse.domain.drill_effect import side_effects
from warehouse.settings.settings import Settings

READS = {
    "shares": """
select
    episode.* exclude (pre_struck, post_struck),
    student.handed,
    episode.pre_struck as pre_shots,
    episode.post_struck as post_shots,
    episode.pre_mishits / nullif(episode.pre_struck, 0) as pre_mishit_share,
    episode.post_mishits / nullif(episode.post_struck, 0) as post_mishit_share,
    1 - measured.pre_shots / nullif(episode.pre_struck - episode.pre_mishits, 0) as pre_unmeasured_share,
    1 - measured.post_shots / nullif(episode.post_struck - episode.post_mishits, 0) as post_unmeasured_share,
    measured.metric as measured_metric,
    measured.excluded_reason,
    drill.aim_metric,
    drill.aim_direction,
    drill.aim_target,
    drill.club_group as drill_club_group
from core.drill_episode as episode
join raw.student as student using (student_id)
left join raw.drill as drill using (drill_id)
join core.episode_metric as measured
    on episode.episode_id = measured.episode_id
where
    episode.club is not null
    and (measured.metric = 'ball_speed' or measured.metric in (select aim_metric from raw.drill))
order by episode.begins_at, episode.episode_id
"""
}


ALWAYS_MEASURED = "ball_speed"


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Estimate the shares as outcomes; what is unmeasured is compared with free practice for the same aim metric."""
    shares = frames["shares"]

    def outcome(name: str, metric: str, drills: pl.Expr) -> pl.DataFrame:
        chosen = shares.filter((pl.col("measured_metric") == metric) & (pl.col("drill_id").is_null() | drills))
        found = side_effects.side_effects(
            chosen.drop("measured_metric"), warn_from=settings.evidence.side_effect_warns_from
        )
        return found.filter(pl.col("outcome") == name)

    aims = shares["aim_metric"].drop_nulls().unique().sort()
    return pl.concat(
        [
            outcome("mishit_share", ALWAYS_MEASURED, pl.lit(True)),
            *(outcome("unmeasured_share", metric, pl.col("aim_metric") == metric) for metric in aims),
        ]
    )
