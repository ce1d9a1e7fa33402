"""One row per thing an estimate is about: its true value, the naive reading and plain covariance adjustment.

Written apart from the engine: the rule of who counts is applied here anew, from the words of the design. Not here: how
well anybody did (`score`).
"""

from __future__ import annotations

import numpy as np
import polars as pl
from numpy.typing import NDArray

from tests.simulation.rows import MIN_SHOTS, Frames
from tests.simulation.scenario import METRICS, TOWARD
from warehouse.domain.statistics import block_summary

Floats = NDArray[np.float64]
KEY = ["drill_id", "metric", "measure", "club_group", "horizon"]
MEASURES = ("centre", "distance", "spread")


def table(frames: Frames) -> pl.DataFrame:
    """Return a row per drill, metric, measure, club group and horizon: `true`, and for each rival its estimate and
    interval (`naive`, `naive_low`, `naive_high`, `plain`, `plain_low`, `plain_high`), signed as the measure is."""
    rows = _with_side(frames.episodes).join(frames.truth, on=["episode_id", "metric"])
    found = []
    for (metric, horizon), part in _samples(rows):
        toward = bool(TOWARD[METRICS.index(metric)])
        for measure in MEASURES:
            if measure == "distance" and not toward:
                continue
            sample = _measured(part, measure, horizon)
            found += [one | {"metric": metric, "measure": measure, "horizon": horizon} for one in _cells(sample)]
    return pl.DataFrame(found, infer_schema_length=None)


def _samples(rows: pl.DataFrame):
    usable = rows.filter(pl.col("excluded_reason").is_null())
    for metric in METRICS:
        mine = usable.filter(metric=metric)
        yield (metric, "transfer"), mine
        yield (metric, "retention"), mine.filter(pl.col("next_centre").is_not_null() & ~pl.col("followed_by_drill"))


def _with_side(episodes: pl.DataFrame) -> pl.DataFrame:
    """Add `side`: the sign of the student's mean first block on earlier days, same club; null without one."""
    first = (
        episodes.filter(pl.col("pre_centre").is_not_null() & (pl.col("pre_shots") >= MIN_SHOTS))
        .sort("begins_at")
        .group_by("student_id", "club", "metric", pl.col("begins_at").dt.date().alias("_day"), maintain_order=True)
        .agg(pl.col("pre_centre").first())
        .sort("_day")
        .with_columns(side=(pl.col("pre_centre").cum_sum().shift(1)).over("student_id", "club", "metric").sign())
        .drop("pre_centre")
    )
    return episodes.with_columns(_day=pl.col("begins_at").dt.date()).join(
        first, on=["student_id", "club", "metric", "_day"], how="left"
    )


def _measured(part: pl.DataFrame, measure: str, horizon: str) -> pl.DataFrame:
    """Add `x`, `y` and `truth` in the measure's frame."""
    after = "post" if horizon == "transfer" else "next"
    shift = "shift" if horizon == "transfer" else "carried"
    if measure == "spread":
        x, _ = block_summary.log_spread(part["pre_spread"].to_numpy(), part["pre_shots"].to_numpy())
        y, _ = block_summary.log_spread(part[f"{after}_spread"].to_numpy(), part[f"{after}_shots"].to_numpy())
        truth = part["log_spread" if horizon == "transfer" else "carried_spread"].to_numpy()
        return part.with_columns(x=pl.Series(x), y=pl.Series(y), truth=pl.Series(truth))
    side = pl.col("side") if measure == "distance" else pl.lit(1.0)
    framed = part.with_columns(
        x=pl.col("pre_centre") * side, y=pl.col(f"{after}_centre") * side, truth=pl.col(shift) * side
    )
    return framed.filter(pl.col("x").is_not_null())


def _cells(sample: pl.DataFrame) -> list[dict]:
    found = []
    for drill, groups in _drill_groups(sample):
        for group in groups:
            mine = sample if group == "any" else sample.filter(club_group=group)
            did = mine.filter(drill_id=drill)
            if did.height < 3 or did["student_id"].n_unique() < 3:
                continue
            free = mine.filter(pl.col("drill_id").is_null())
            naive = _naive(did)
            plain = _plain(did, free)
            found.append(
                {"drill_id": drill, "club_group": group, "true": did["truth"].mean(), "n": did.height}
                | dict(zip(("naive", "naive_low", "naive_high"), naive, strict=True))
                | dict(zip(("plain", "plain_low", "plain_high"), plain, strict=True))
            )
    return found


def _drill_groups(sample: pl.DataFrame) -> list[tuple[str, list[str]]]:
    facts = sample.filter(pl.col("drill_id").is_not_null()).select("drill_id", "drill_club_group").unique()
    present = sorted(sample["club_group"].unique())
    return [(drill, [*present, "any"] if group == "any" else [group]) for drill, group in sorted(facts.rows())]


def _interval(estimate: float, scores: Floats, students: list[str] | NDArray) -> tuple[float, float, float]:
    """95% t interval from scores summed by student."""
    from scipy.special import stdtrit

    _, index = np.unique(np.asarray(students), return_inverse=True)
    summed = np.bincount(index, scores)
    g = int((np.bincount(index, scores != 0) > 0).sum())
    half = stdtrit(max(g - 1, 1), 0.975) * np.sqrt(g / max(g - 1, 1) * (summed**2).sum())
    return estimate, estimate - half, estimate + half


def _naive(did: pl.DataFrame) -> tuple[float, float, float]:
    """After minus before, with an interval by student."""
    change = (did["y"] - did["x"]).to_numpy()
    mean = float(np.nanmean(change))
    return _interval(mean, np.nan_to_num(change - mean) / change.size, did["student_id"].to_numpy())


def _plain(did: pl.DataFrame, free: pl.DataFrame) -> tuple[float, float, float]:
    """Covariance adjustment: after on before, club and drill against free practice, errors clustered by student."""
    both = pl.concat([did, free])
    y = both["y"].to_numpy()
    x = np.column_stack(
        [both["drill_id"].is_not_null().to_numpy(), np.ones(y.size), both["x"].to_numpy(),
         (both["club_group"] == "driver").to_numpy()]
    ).astype(float)  # fmt: skip
    ok = np.isfinite(y) & np.isfinite(x).all(axis=1)
    y, x = y[ok], x[ok]
    inverse = np.linalg.pinv(x.T @ x)
    beta = inverse @ (x.T @ y)
    scores = (x @ inverse[0]) * (y - x @ beta)
    return _interval(float(beta[0]), scores, both["student_id"].to_numpy()[ok])
