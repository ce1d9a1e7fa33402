"""Bay offsets of drawn academies against the offsets planted. Not here: effects (`score`)."""

from __future__ import annotations

import numpy as np
import polars as pl

from tests.simulation.academies import Academy
from tests.simulation.rows import Frames
from tests.simulation.scenario import METRICS, MIRRORED, UNIT


def score(frames: Frames, academy: Academy) -> pl.DataFrame:
    """Return a row per bay and metric: `error` of the fitted offset and `raw_error` of the bay's mean, in smallest
    changes, both against the planted offset less the mean of all bays; `inside` its interval; `drifting`."""
    planted = pl.concat(
        pl.DataFrame({"bay_id": [f"B{b:03d}" for b in range(len(academy.staff.bay))], "metric": name,
                      "true": academy.staff.bay[:, j], "unit": UNIT[j], "mirrored": bool(MIRRORED[j])})
        for j, name in enumerate(METRICS)
    )  # fmt: skip
    # A bay counts as it reads since its last stretch began.
    latest = frames.offsets.sort("from_date", nulls_last=False).unique(["bay_id", "metric"], keep="last")
    moved = pl.when(pl.col("bay_id") == "B001").then(academy.scenario.jump * pl.col("unit")).otherwise(0.0)
    found = latest.join(planted.with_columns(pl.col("true") + moved), on=["bay_id", "metric"])
    fitted = pl.when((pl.col("handed") == "left") & pl.col("mirrored")).then(-1.0).otherwise(1.0)
    # First blocks come with offsets taken off: put them back for the bay's plain mean, in the bay's own frame.
    raw = (
        frames.first_blocks.filter(pl.col("shots") >= 5)
        .join(found.select("bay_id", "metric", "bay_offset", "mirrored"), on=["bay_id", "metric"])
        .group_by("bay_id", "metric")
        .agg(raw=(pl.col("centre") * fitted + pl.col("bay_offset")).mean())
    )
    centred = [pl.col(name) - pl.col(name).mean().over("metric") for name in ("true", "raw")]
    return (
        found.join(raw, on=["bay_id", "metric"])
        .with_columns(centred)
        .select(
            error=(pl.col("bay_offset") - pl.col("true")) / pl.col("unit"),
            raw_error=(pl.col("raw") - pl.col("true")) / pl.col("unit"),
            inside=pl.col("true").is_between("ci_low", "ci_high"),
            drifting="drifting",
            scenario=pl.lit(academy.scenario.name),
        )
    )


def error(scored: pl.DataFrame) -> float:
    """Root mean square error of the offsets over that of raw bay means."""
    return float(np.sqrt((scored["error"] ** 2).mean() / (scored["raw_error"] ** 2).mean()))
