"""Do 80% prediction intervals hold eight in ten? Sessions after the term, hit with and without every drill.

What a session would have come to without the drill is predicted from a fit to sessions of the same students without
one, all of them drawn here: the engine's own fit plays no part. Not here: effects (`score`).
"""

from __future__ import annotations

import numpy as np
import polars as pl

from tests.simulation.academies import Academy, level_on
from tests.simulation.people import ANY_CLUB, pull
from tests.simulation.scenario import CLUBS, DAY, GROUPS, METRICS, TOWARD, UNIT
from tests.simulation.shots import hit

REPEATS = 4
PRE_SHOTS, POST_SHOTS = (6, 25), 15


def outcomes(academy: Academy) -> pl.DataFrame:
    """Return a row per student with a history, drill, club group and repeat: `student_id, drill_id, club_group, metric`
    (the drill's aim), `beyond` (the change beyond free practice, signed as the aim's measure is)."""
    rng = np.random.default_rng([academy.seed, 1])
    return pl.concat([_club(rng, academy, club) for club in range(len(CLUBS))])


def _club(rng: np.random.Generator, academy: Academy, club: int) -> pl.DataFrame:
    scenario, s, drills = academy.scenario, academy.students, academy.drills
    known = np.flatnonzero(academy.seen_days[:, club, 0] > 0)
    who = np.repeat(known, REPEATS)
    n, m = who.size, len(METRICS)
    clubs, day = np.full(n, club), np.full(n, 7 * academy.weeks)
    usual = level_on(academy, who, clubs, day)
    form = 0.8 * rng.standard_t(scenario.tail, (n, m)) / np.sqrt(1.6) + 0.6 * rng.normal(size=(n, 1))
    form = form * DAY * UNIT
    count = rng.integers(*PRE_SHOTS, n)
    start = np.zeros(n, dtype=np.int64)
    pre = hit(rng, scenario, usual + form, s.warm_up[who], s.shot[who], start, count)
    wander = rng.standard_t(scenario.tail, (n, m)) * 0.7 * scenario.walk * UNIT
    settled = usual + scenario.form_kept * form + wander + s.gain[who]
    post = hit(rng, scenario, settled, s.warm_up[who], s.shot[who], count, np.full(n, POST_SHOTS))
    days = academy.seen_days[who, club]
    history = academy.seen_sum[who, club] / days
    beyond = np.column_stack([
        _residual(pre.centre[:, j], post.centre[:, j], history[:, j], days[:, 0], count) for j in range(m)
    ])  # fmt: skip
    shift, _ = pull(drills, who, clubs, settled)
    parts = []
    for d, aim in enumerate(drills.aim):
        if drills.club[d] not in (ANY_CLUB, club):
            continue
        side = np.sign(history[:, aim]) if TOWARD[aim] else 1.0
        parts.append(
            pl.DataFrame(
                {"student_id": [f"S{i:03d}" for i in who], "drill_id": f"D{d:03d}", "club_group": GROUPS[club],
                 "metric": METRICS[aim], "beyond": side * (beyond[:, aim] + shift[:, d, aim])}
            )
        )  # fmt: skip
    empty = pl.DataFrame(schema={"student_id": pl.String, "drill_id": pl.String, "club_group": pl.String,
                                 "metric": pl.String, "beyond": pl.Float64})  # fmt: skip
    return pl.concat([empty, *parts])


def _residual(x: np.ndarray, y: np.ndarray, history: np.ndarray, days: np.ndarray, count: np.ndarray) -> np.ndarray:
    """What is left of the second block after the first, the history, and how much each can be trusted."""
    kept = days / (days + 1.5)
    h = history - history.mean()
    z = x - x.mean()
    design = np.column_stack([np.ones_like(x), z, h, kept, kept * z, kept * h, 1 / count, np.log(count)])
    return y - design @ np.linalg.lstsq(design, y, rcond=None)[0]


def score(forecasts: pl.DataFrame, academy: Academy) -> pl.DataFrame:
    """Join forecasts with outcomes: `inside` the interval, `new` to the drill, `error`, `width` (smallest changes)."""
    units = pl.DataFrame({"metric": METRICS, "unit": UNIT})
    key = ["student_id", "drill_id", "metric", "club_group"]
    return (
        forecasts.filter(pl.col("expected_effect").is_not_null())
        .join(outcomes(academy), on=key)
        .join(units, on="metric")
        .select(
            *key,
            inside=pl.col("beyond").is_between("interval_low", "interval_high"),
            new=pl.col("episodes") == 0,
            error=(pl.col("expected_effect") - pl.col("beyond")) / pl.col("unit"),
            width=(pl.col("interval_high") - pl.col("interval_low")) / pl.col("unit"),
            scenario=pl.lit(academy.scenario.name),
        )
    )
