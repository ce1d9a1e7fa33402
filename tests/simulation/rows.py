"""An academy's term as the frames the engine reads, and the truth beside them.

Not here: how either came about (`academies`) or how estimates are judged (`score`).
"""

from __future__ import annotations

import datetime as dt
from typing import NamedTuple

import numpy as np
import polars as pl

from tests.simulation.academies import Academy
from tests.simulation.people import ANY_CLUB
from tests.simulation.scenario import CLUBS, GROUPS, METRICS, MIRRORED, TOWARD, UNIT
from warehouse.domain.bays import offsets as bay_offset
from warehouse.domain.bays import step

MONDAY = dt.date(2025, 1, 6)
FOLLOW_UP_DAYS = 21
MIN_SHOTS = 5


class Frames(NamedTuple):
    """`episodes` as the engine takes them; `truth` a row per episode and metric: `shift`, `log_spread`, `carried`,
    `carried_spread` (what the drill did, in the metric's unit or in logs), nothing for free practice; `first_blocks`
    a row per session and metric; `offsets` as fitted."""

    episodes: pl.DataFrame
    truth: pl.DataFrame
    first_blocks: pl.DataFrame
    offsets: pl.DataFrame


def frames(academy: Academy) -> Frames:
    """Build every frame; bay offsets are the fitted ones, so their error is in the study."""
    visits = _jumped(academy, _visits(academy), "centre")
    sessions = visits.filter(pl.col("shots") >= MIN_SHOTS).select(
        "student_id", "handed", "club", "bay_id", "week", "day", "metric", "shots", "centre", "variance"
    )
    offsets = bay_offset.fit(sessions, step.find(sessions).select("bay_id", "on_date"))
    first = bay_offset.apply(visits, offsets)
    wide = _jumped(academy, _episodes(academy), "pre_centre", "post_centre")
    pre = bay_offset.apply(wide.rename({"pre_centre": "centre"}), offsets).rename({"centre": "pre_centre"})
    both = bay_offset.apply(pre.rename({"post_centre": "centre"}), offsets).rename({"centre": "post_centre"})
    rows = _with_next(both, first).with_columns(
        excluded_reason=pl.when((pl.col("pre_shots") < MIN_SHOTS) | (pl.col("post_shots") < MIN_SHOTS)).then(
            pl.lit("too few shots")
        )
    )
    fade = (-pl.col("next_days") / academy.scenario.fade_days).exp() * pl.col("kept")
    truth = rows.select(
        "episode_id", "metric", "shift", pl.col("narrower").alias("log_spread"), carried=fade * pl.col("shift"),
        # The scatter is as before on the next day: nothing of a narrower spread is left.
        carried_spread=pl.when(pl.col("next_days").is_not_null()).then(0.0),
    )  # fmt: skip
    keep = [name for name in rows.columns if name not in ("shift", "narrower", "kept", "day")]
    return Frames(rows.select(keep), truth, first, offsets)


def _jumped(academy: Academy, rows: pl.DataFrame, *columns: str) -> pl.DataFrame:
    """Let bay B001 read otherwise from mid-term on."""
    jump = academy.scenario.jump
    unit = pl.col("metric").replace_strict(dict(zip(METRICS, UNIT, strict=True)), return_dtype=pl.Float64)
    mirrored = [name for name, is_mirrored in zip(METRICS, MIRRORED, strict=True) if is_mirrored]
    sign = pl.when(pl.col("metric").is_in(mirrored) & (pl.col("handed") == "left")).then(-1.0).otherwise(1.0)
    changed = (pl.col("bay_id") == "B001") & (pl.col("day") >= changed_on(academy))
    return rows.with_columns(
        pl.col(name) + pl.when(changed).then(jump * unit * sign).otherwise(0.0) for name in columns
    ) if jump else rows  # fmt: skip


def changed_on(academy: Academy) -> dt.date:
    """The day on which the device of bay B001 is replaced."""
    return MONDAY + dt.timedelta(days=int(3.5 * academy.weeks))


def as_logged(academy: Academy, episodes: pl.DataFrame) -> pl.DataFrame:
    """What the log says of the episodes: some drills under another's name, some as if there had been none."""
    scenario = academy.scenario
    if not (scenario.misnamed or scenario.not_logged):
        return episodes
    rng = np.random.default_rng([academy.seed, 2])
    facts = ["drill_id", "aim_metric", "aim_direction", "aim_target", "drill_club_group"]
    drills = episodes.select(facts).filter(pl.col("drill_id").is_not_null()).unique().sort("drill_id")
    ids = episodes.filter(pl.col("drill_id").is_not_null())["episode_id"].unique().sort()
    draw = rng.random(ids.len())
    other = pl.DataFrame(
        {"episode_id": ids, "_lost": draw < scenario.not_logged,
         "_named": pl.Series(rng.integers(0, drills.height, ids.len())),
         "_wrong": draw > 1 - scenario.misnamed}
    )  # fmt: skip
    named = drills.with_row_index("_named").with_columns(pl.col("_named").cast(pl.Int64))
    both = episodes.join(other, on="episode_id", how="left").join(named, on="_named", how="left", suffix="_other")
    wrong, lost = pl.col("_wrong").fill_null(False), pl.col("_lost").fill_null(False)
    return both.with_columns(
        *[pl.when(lost).then(None).when(wrong).then(f"{name}_other").otherwise(name).alias(name) for name in facts],
        pl.when(lost).then(pl.lit("free_practice")).otherwise("kind").alias("kind"),
    ).select(episodes.columns)  # fmt: skip


def _names(prefix: str, codes: np.ndarray) -> list[str | None]:
    return [f"{prefix}{code:03d}" if code >= 0 else None for code in codes]


def _session_ids(student: np.ndarray, day: np.ndarray) -> list[str]:
    return [f"V{s:03d}-{d:04d}" for s, d in zip(student, day, strict=True)]


def _days(day: np.ndarray) -> list[dt.date]:
    return [MONDAY + dt.timedelta(days=int(d)) for d in day]


def _people(academy: Academy, part: dict) -> dict:
    who = part["student"]
    return {
        "student_id": _names("S", who),
        "session_id": _session_ids(who, part["day"]),
        "coach_id": pl.Series(_names("C", part["coach"]), dtype=pl.String),
        "bay_id": _names("B", part["bay"]),
        "club": [CLUBS[c] for c in part["club"]],
        "club_group": [GROUPS[c] for c in part["club"]],
        "handed": ["left" if left else "right" for left in academy.students.left[who]],
        "day": _days(part["day"]),
    }


def _block(block: str, hit, j: int) -> dict:
    return {
        f"{block}shots": hit.shots.astype(np.int64),
        f"{block}centre": hit.centre[:, j],
        f"{block}variance": hit.variance[:, j],
        f"{block}spread": hit.spread[:, j],
    }


def _long(parts: list[pl.DataFrame]) -> pl.DataFrame:
    return pl.concat(parts).with_columns(pl.col(pl.Float64).fill_nan(None), week=pl.col("day").dt.truncate("1w"))


def _visits(academy: Academy) -> pl.DataFrame:
    """One row per session's first block and metric, offsets still in."""
    parts = []
    for part in academy.visits:
        people = _people(academy, part)
        parts += [
            pl.DataFrame(people | _block("", part["hit"], j)).with_columns(metric=pl.lit(name))
            for j, name in enumerate(METRICS)
        ]
    return _long(parts)


def _episodes(academy: Academy) -> pl.DataFrame:
    """One row per episode and metric, offsets still in, without the next session."""
    drills = academy.drills
    aims = [METRICS[a] for a in drills.aim]
    groups = ["any" if c == ANY_CLUB else GROUPS[c] for c in drills.club]
    parts = []
    for part in academy.episodes:
        drill = part["drill"]
        facts = _people(academy, part) | {
            "drill_id": pl.Series(_names("D", drill), dtype=pl.String),
            "kind": np.where(drill >= 0, "drill", "free_practice"),
            "chosen_by": pl.Series([c if d >= 0 else None for c, d in zip(part["chosen"], drill, strict=True)],
                                   dtype=pl.String),
            "second": part["second"],
            "followed_by_drill": part["followed"],
            "aim_metric": pl.Series([aims[d] if d >= 0 else None for d in drill], dtype=pl.String),
            "drill_club_group": pl.Series([groups[d] if d >= 0 else None for d in drill], dtype=pl.String),
            "kept": part["kept"],
            "drill_shots": pl.Series(np.where(drill >= 0, part["drill_shots"], -1), dtype=pl.Int64).replace(-1, None),
        }  # fmt: skip
        for j, name in enumerate(METRICS):
            blocks = _block("pre_", part["pre"], j) | _block("post_", part["post"], j)
            did = {"shift": part["shift"][:, j], "narrower": part["post"].narrower[:, j]}
            parts.append(pl.DataFrame(facts | blocks | did).with_columns(metric=pl.lit(name)))
    toward = [name for name, is_toward in zip(METRICS, TOWARD, strict=True) if is_toward]
    return _long(parts).with_columns(
        episode_id=pl.concat_str("session_id", pl.when("second").then(pl.lit("b")).otherwise(pl.lit("a"))),
        begins_at=pl.col("day").cast(pl.Datetime("us")) + pl.when("second").then(pl.duration(hours=11)).otherwise(
            pl.duration(hours=10)),
        aim_direction=pl.when(pl.col("aim_metric").is_in(toward)).then(pl.lit("toward")).when(
            pl.col("aim_metric").is_not_null()).then(pl.lit("raise")),
        aim_target=pl.when(pl.col("aim_metric").is_in(toward)).then(0.0),
    ).drop("second")  # fmt: skip


def _with_next(episodes: pl.DataFrame, first: pl.DataFrame) -> pl.DataFrame:
    """Join the first block of the next session with that club, one to 21 days later."""
    later = first.filter(pl.col("shots") >= MIN_SHOTS).select(
        "student_id", "club", "metric", pl.col("day").alias("_next_day"), pl.col("session_id").alias("next_session_id"),
        pl.col("bay_id").alias("next_bay_id"), pl.col("shots").alias("next_shots"),
        pl.col("centre").alias("next_centre"), pl.col("variance").alias("next_variance"),
        pl.col("spread").alias("next_spread"),
    )  # fmt: skip
    return (
        episodes.with_columns(_from=pl.col("day") + pl.duration(days=1))
        .sort("_from")
        .join_asof(
            later.sort("_next_day"), left_on="_from", right_on="_next_day", by=["student_id", "club", "metric"],
            strategy="forward", tolerance=f"{FOLLOW_UP_DAYS - 1}d", check_sortedness=False,
        )
        .with_columns(next_days=(pl.col("_next_day") - pl.col("day")).dt.total_days().cast(pl.Float64))
        .sort("episode_id", "metric")
        .drop("_from", "_next_day")
    )  # fmt: skip
