"""Episode rows as arrays: codes for labels, first blocks, and each student's level on earlier days.

Not here: which covariates enter the fit (covariates.py) and what an effect is (influence.py).
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
import polars as pl
from numpy.typing import NDArray

from warehouse.domain.statistics import block_summary
from warehouse.domain.statistics import variance_components as variance

Floats = NDArray[np.float64]
Codes = NDArray[np.int64]
Flags = NDArray[np.bool_]

REQUIRED: dict[str, pl.DataType | type[pl.DataType]] = {
    "episode_id": pl.String, "kind": pl.String, "drill_id": pl.String, "student_id": pl.String,
    "session_id": pl.String, "coach_id": pl.String, "bay_id": pl.String, "club": pl.String, "club_group": pl.String,
    "chosen_by": pl.String, "begins_at": pl.Datetime("us"), "week": pl.Date, "handed": pl.String, "metric": pl.String,
    "pre_shots": pl.Int64, "pre_centre": pl.Float64, "pre_variance": pl.Float64, "pre_spread": pl.Float64,
    "post_shots": pl.Int64, "post_centre": pl.Float64, "post_variance": pl.Float64, "post_spread": pl.Float64,
    "next_session_id": pl.String, "next_bay_id": pl.String, "next_days": pl.Float64, "next_shots": pl.Int64,
    "next_centre": pl.Float64, "next_variance": pl.Float64, "next_spread": pl.Float64,
    "followed_by_drill": pl.Boolean, "excluded_reason": pl.String,
    "aim_metric": pl.String, "aim_direction": pl.String, "aim_target": pl.Float64, "drill_club_group": pl.String,
}  # fmt: skip
"""Columns of an episode row, one row an episode and metric."""

OPTIONAL: dict[str, pl.DataType | type[pl.DataType]] = {
    "drill_shots": pl.Int64, "ripe": pl.Boolean, "pre_balls": pl.Int64, "post_balls": pl.Int64,
}  # fmt: skip
"""Balls hit while the drill ran (they warm the golfer up as practice does; without them no allowance is made), and
whether the days in which a next session would count have passed (without it `FOLLOW_DAYS` are taken); full swings
before and after, measured or not (without them nothing is said of balls that a bay lost)."""

FOLLOW_DAYS = 21
"""Days in which a next session counts, where rows do not say whether theirs have passed."""

FREE = "free_practice"
CODED = ("student_id", "session_id", "coach_id", "club", "drill_id")


@dataclass(frozen=True)
class Panel:
    """The episodes of one metric; every array has one entry a row. Codes are whole numbers, -1 for none."""

    student: Codes
    session: Codes
    coach: Codes
    bay: Codes
    next_bay: Codes
    club: Codes
    drill: Codes
    free: Flags
    drawn: Flags
    usable: Flags
    first: Flags
    followed_by_drill: Flags
    ripe: Flags
    day: Codes
    week: Floats
    hand: Floats
    next_days: Floats
    drill_shots: Floats
    balls: Floats
    shots: Floats
    centre: Floats
    variance: Floats
    spread: Floats
    group: NDArray[np.str_]

    def take(self, rows: Flags | Codes) -> Panel:
        """The same arrays at some rows; the block arrays have (3, n) shape: pre, post, next."""
        return Panel(**{f.name: getattr(self, f.name)[..., rows] for f in fields(self)})


@dataclass(frozen=True)
class Level:
    """What a student's earlier days say, one entry a row (unit of the measure).

    `usual` mean of first-block centres of earlier days, NaN without one (club's mean not removed); `m` the same
    centred on the club's mean and shrunk to it; `doubt` the variance of the student's true level about m; `days` how
    many first blocks it rests on; `club_mean` the mean of first blocks of the row's club; `age` how many weeks ago, on
    average, those first blocks were, 0 without one.
    """

    usual: Floats
    m: Floats
    doubt: Floats
    days: Floats
    club_mean: Floats
    components: variance.Components
    age: Floats


def prepare(episodes: pl.DataFrame) -> pl.DataFrame:
    """Check columns and types, add whole-number codes and the mark of a session's first block.

    Raises
    ------
    ValueError
        When a column is missing, naming it.
    """
    missing = [name for name in REQUIRED if name not in episodes.columns]
    if missing:
        raise ValueError(f"episode rows lack the columns {', '.join(missing)}")
    frame = episodes.select(
        [pl.col(name).cast(kind) for name, kind in REQUIRED.items()]
        + [
            (pl.col(name) if name in episodes.columns else pl.lit(None)).cast(kind).alias(name)
            for name, kind in OPTIONAL.items()
        ]
    )
    bays = pl.concat([frame["bay_id"], frame["next_bay_id"]]).drop_nulls().unique().sort()
    return frame.with_columns(
        *[(pl.col(name).rank("dense").cast(pl.Int64).fill_null(0) - 1).alias(f"{name}_code") for name in CODED],
        *[
            pl.col(name).replace_strict(bays, pl.Series(range(bays.len()), dtype=pl.Int64), default=-1,
                                        return_dtype=pl.Int64).alias(f"{name}_code")
            for name in ("bay_id", "next_bay_id")
        ],
        (pl.col("begins_at") == pl.col("begins_at").min().over("session_id")).alias("first"),
    )  # fmt: skip


def by_metric(prepared: pl.DataFrame) -> list[tuple[str, pl.DataFrame]]:
    """The rows of each metric, in order of metric; rows that come in that order already are not copied."""
    metric = prepared["metric"]
    ordered = prepared if metric.is_sorted() else prepared.sort("metric", maintain_order=True)
    runs = ordered["metric"].rle().struct.unnest()
    ends = runs["len"].cum_sum()
    return [(name, ordered.slice(end - size, size)) for size, name, end in zip(*runs, ends, strict=True)]


def _floats(frame: pl.DataFrame, name: str) -> Floats:
    return frame[name].cast(pl.Float64).fill_null(np.nan).to_numpy().astype(np.float64)


def panel(prepared: pl.DataFrame) -> Panel:
    """Arrays of one metric's rows of a prepared frame."""
    code = {name: prepared[f"{name}_code"].to_numpy().astype(np.int64) for name in (*CODED, "bay_id", "next_bay_id")}
    day = prepared["begins_at"].dt.date().cast(pl.Int32).to_numpy().astype(np.int64)
    week = prepared["week"].cast(pl.Int32).to_numpy().astype(np.float64) / 7.0
    of_block = {
        what: np.stack([_floats(prepared, f"{block}_{what}") for block in ("pre", "post", "next")])
        for what in ("shots", "centre", "variance", "spread")
    }
    enough = of_block["shots"] >= block_summary.LEAST_SHOTS
    return Panel(
        student=code["student_id"], session=code["session_id"], coach=code["coach_id"], bay=code["bay_id"],
        next_bay=code["next_bay_id"], club=code["club"], drill=code["drill_id"],
        free=(prepared["kind"] == FREE).to_numpy(),
        drawn=(prepared["chosen_by"] == "draw").fill_null(False).to_numpy(),
        usable=prepared["excluded_reason"].is_null().to_numpy(),
        first=(prepared["first"] & (prepared["excluded_reason"] != "no consent").fill_null(True)).to_numpy(),
        followed_by_drill=prepared["followed_by_drill"].fill_null(False).to_numpy(),
        ripe=prepared["ripe"].fill_null(pl.Series(day + FOLLOW_DAYS <= day.max(initial=0))).to_numpy(),
        day=day, week=week, hand=np.where((prepared["handed"] == "left").fill_null(False).to_numpy(), -1.0, 1.0),
        next_days=_floats(prepared, "next_days"), drill_shots=_floats(prepared, "drill_shots"),
        balls=np.stack([_floats(prepared, "pre_balls"), _floats(prepared, "post_balls")]), shots=of_block["shots"],
        centre=np.where(enough, of_block["centre"], np.nan), variance=np.where(enough, of_block["variance"], np.nan),
        spread=np.where(enough, of_block["spread"], np.nan),
        group=prepared["club_group"].fill_null("").to_numpy().astype(str),
    )  # fmt: skip


def measured(rows: Panel, measure: str) -> tuple[Floats, Floats]:
    """Values and error variances of the three blocks, (3, n): centres, or log spreads for measure 'spread'."""
    if measure == "spread":
        return block_summary.log_spread(rows.spread, np.nan_to_num(rows.shots))
    return rows.centre, rows.variance


def level(rows: Panel, value: Floats, error: Floats) -> Level:
    """Each row's student level from first blocks of earlier days with the same club.

    Parameters
    ----------
    value, error : (n,) pre-block values and error variances of `rows`.

    Notes
    -----
    Shrinkage to the club's mean: tau^2 / (tau^2 + s_b^2/k + vbar/k), k first blocks with mean error variance vbar.
    """
    first = rows.first & np.isfinite(value) & np.isfinite(error)
    clubs = int(rows.club.max(initial=0)) + 1
    known = np.bincount(rows.club[first], minlength=clubs)
    sums = np.bincount(rows.club[first], value[first], clubs)
    any_block = np.isfinite(value)
    spare = np.bincount(rows.club[any_block], value[any_block], clubs) / np.maximum(
        np.bincount(rows.club[any_block], minlength=clubs), 1
    )
    club_mean = np.where(known > 0, sums / np.maximum(known, 1), spare)[rows.club]

    unit = rows.student * clubs + rows.club
    key = unit * 1_000_000 + rows.day
    order = np.argsort(key[first], kind="stable")
    keys = key[first][order]
    total = np.concatenate(([0.0], np.cumsum((value - club_mean)[first][order])))
    noise = np.concatenate(([0.0], np.cumsum(error[first][order])))
    days = np.concatenate(([0.0], np.cumsum(rows.day[first][order].astype(np.float64))))
    start, stop = np.searchsorted(keys, unit * 1_000_000), np.searchsorted(keys, key)
    k = (stop - start).astype(np.float64)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean, vbar = (total[stop] - total[start]) / k, (noise[stop] - noise[start]) / k
        age = np.where(k > 0, (rows.day - (days[stop] - days[start]) / k) / 7.0, 0.0)
    fit = variance.from_blocks(unit[first], (value - club_mean)[first], error[first], rows.shots[0][first])
    tau2, s_b2 = np.nan_to_num(fit.between_students), np.nan_to_num(fit.between_sessions)
    with np.errstate(invalid="ignore", divide="ignore"):
        known_share = np.nan_to_num(np.where(k > 0, tau2 / (tau2 + (s_b2 + vbar) / k), 0.0))
    m = known_share * np.where(k > 0, mean, 0.0)
    return Level(np.where(k > 0, mean + club_mean, np.nan), m, tau2 * (1 - known_share), k, club_mean, fit, age)
