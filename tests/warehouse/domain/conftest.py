"""A small made academy as episode rows, for tests of plumbing and invariance (never of truth)."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import numpy as np
import polars as pl
import pytest

from warehouse.domain.drill_effect.episodes import REQUIRED

MakeRows = Callable[..., pl.DataFrame]
START = dt.datetime(2025, 1, 6, 10)


def _block(rng: np.random.Generator, level: np.ndarray, shots: np.ndarray, prefix: str) -> dict[str, np.ndarray]:
    sd = 2.0 * np.sqrt(rng.chisquare(shots - 1) / (shots - 1))
    return {
        f"{prefix}_shots": shots,
        f"{prefix}_centre": level + rng.normal(size=level.size) * 2.0 / np.sqrt(shots),
        f"{prefix}_variance": sd**2 / shots,
        f"{prefix}_spread": sd,
    }


def make_rows(
    seed: int = 0,
    students: int = 60,
    visits: int = 12,
    effects: dict[str, float] | None = None,
    bring_in: dict[str, float] | None = None,
    narrow: dict[str, float] | None = None,
    drill_share: float = 0.35,
    coaches: int = 4,
    lessons_only_with_drill: bool = False,
    free: bool = True,
    **columns: Any,
) -> pl.DataFrame:
    """Rows of one metric: students drift about their level by day, drills shift, bring in, or narrow.

    `effects` drill -> shift of the post block; `bring_in` drill -> share of the level taken away toward 0; `narrow`
    drill -> change of the log scatter. Drills are picked more where the block before is low. `columns` overwrite.
    """
    rng = np.random.default_rng(seed)
    effects, bring_in, narrow = effects or {"A": 0.0, "B": 1.0}, bring_in or {}, narrow or {}
    names = np.array(sorted({*effects, *bring_in, *narrow}))
    n = students * visits
    who, visit = np.repeat(np.arange(students), visits), np.tile(np.arange(visits), students)
    level = rng.normal(0, 2.5, students)[who]
    today = level + rng.normal(0, 1.0, n)
    pre = _block(rng, today, rng.integers(6, 25, n), "pre")
    lesson = rng.random(n) < 0.6
    drilled = (rng.random(n) < 2 * drill_share / (1 + np.exp(pre["pre_centre"] - level))) & lesson
    lesson = drilled if lessons_only_with_drill else lesson
    drill = np.where(drilled, names[rng.integers(0, names.size, n)], "")
    coach = np.where(lesson, np.char.add("C", rng.integers(0, coaches, n).astype(str)), "")
    share = np.array([bring_in.get(d, 0.0) for d in drill])
    after = 0.7 * today + 0.3 * level + 0.2 + rng.normal(0, 0.5, n)
    after = after * (1 - share) + np.array([effects.get(d, 0.0) for d in drill])
    post = _block(rng, after, rng.integers(6, 25, n), "post")
    scale = np.exp([narrow.get(d, 0.0) for d in drill])
    post |= {"post_spread": post["post_spread"] * scale, "post_variance": post["post_variance"] * scale**2}
    day = visit * 7 + rng.integers(0, 5, n)
    begins = [START + dt.timedelta(days=int(d)) for d in day]
    last = visit == visits - 1
    following = {"next" + key.removeprefix("pre"): np.append(value[1:], value[:1]) for key, value in pre.items()}
    nothing = [None] * n
    rows: dict[str, Any] = {
        "episode_id": np.char.add("E", np.arange(n).astype(str)), "kind": np.where(drilled, "drill", "free_practice"),
        "drill_id": drill, "student_id": np.char.add("S", who.astype(str)),
        "session_id": np.char.add("V", np.arange(n).astype(str)), "coach_id": coach,
        "bay_id": np.char.add("B", rng.integers(0, 4, n).astype(str)), "club": "driver", "club_group": "driver",
        "chosen_by": "coach", "begins_at": begins, "week": [(b - dt.timedelta(b.weekday())).date() for b in begins],
        "handed": np.where(who % 7 == 0, "left", "right"), "metric": "attack_angle", **pre, **post,
        "next_session_id": np.char.add("V", (np.arange(n) + 1).astype(str)), "next_bay_id": "B0",
        "next_days": np.append(np.diff(day), 1).astype(float), **following, "followed_by_drill": False,
        "excluded_reason": nothing, "aim_metric": "attack_angle", "aim_direction": "raise", "aim_target": nothing,
        "drill_club_group": "driver",
    }  # fmt: skip
    frame = pl.DataFrame(rows).with_columns(
        pl.when(pl.col("drill_id") != "").then("drill_id").alias("drill_id"),
        pl.when(pl.col("coach_id") != "").then("coach_id").alias("coach_id"),
        *[pl.when(~pl.Series(last)).then(name).alias(name) for name in
          ("next_session_id", "next_bay_id", "next_days", *following)],
    )  # fmt: skip
    frame = frame.with_columns(
        [pl.when(pl.col("kind") == "drill").then(c).alias(c) for c in ("chosen_by", "aim_metric", "aim_direction",
                                                                        "drill_club_group")]
    )  # fmt: skip
    for name, value in columns.items():
        given = pl.lit(value) if isinstance(value, str | float | int | bool) else value
        frame = frame.with_columns(given.alias(name))
    if not free:
        frame = frame.filter(pl.col("kind") == "drill")
    return frame.select([pl.col(name).cast(kind) for name, kind in REQUIRED.items()])


@pytest.fixture(scope="session")
def academy_rows() -> MakeRows:
    """Maker of episode rows, see `make_rows`."""
    return make_rows
