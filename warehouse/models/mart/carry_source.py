"""One row: one driver episode, with its change in carry split so that the parts add up."""

from __future__ import annotations

import polars as pl

from warehouse.domain.delivery import carry_decomposition
from warehouse.settings.settings import Settings

READS = {
    "blocks": """
with airs as (
    select
        session_id,
        avg(air_density::decimal(18, 9)) as air_density
    from core.shot
    where club_group = 'driver'
    group by session_id
)

select
    episode.episode_id,
    episode.drill_id,
    episode.student_id,
    episode.club_group,
    airs.air_density,
    measured.metric,
    measured.pre_centre,
    measured.post_centre
from core.episode_metric as measured
join core.drill_episode as episode using (episode_id)
join airs on episode.session_id = airs.session_id
where
    episode.club_group = 'driver'
    and measured.metric in (
        'club_speed', 'attack_angle', 'dynamic_loft', 'ball_speed', 'launch_angle', 'spin_rate', 'carry'
    )
    and measured.excluded_reason is null
"""
}
EPISODE = ["episode_id", "drill_id", "student_id", "club_group", "air_density"]


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Split every episode that has all the split needs; the others have no row."""
    wide = frames["blocks"].pivot("metric", index=EPISODE, values=["pre_centre", "post_centre"]).sort("episode_id")
    for metric in carry_decomposition.INPUTS:
        for block in ("pre_centre", "post_centre"):
            if f"{block}_{metric}" not in wide.columns:
                wide = wide.with_columns(pl.lit(None, dtype=pl.Float64).alias(f"{block}_{metric}"))

    def block(name: str) -> dict[str, object]:
        return {
            metric: wide[f"{name}_{metric}"].cast(pl.Float64).fill_null(float("nan")).to_numpy()
            for metric in carry_decomposition.INPUTS
        }

    density = wide["air_density"].fill_null(float("nan")).to_numpy()
    parts = carry_decomposition.split(block("pre_centre"), block("post_centre"), air_density=density)
    named = {part: f"from_{part}" for part in carry_decomposition.PARTS}
    whole = pl.concat([wide.select(EPISODE[:-1]), parts.rename(named)], how="horizontal")
    return whole.with_columns(pl.col(pl.Float64).fill_nan(None)).filter(pl.col("remainder").is_not_null())
