"""Made sessions, shots, students and cohorts."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import duckdb
import numpy as np
import polars as pl
from made_tables import (
    BAYS,
    DISTANCES,
    DRILLS,
    GROUPS,
    LEVELS,
    SHOT_SD,
    START,
    STUDENTS,
    TABLES,
    WEEKS,
    fill,
    student_id,
    week_start,
)


def sessions(rng: np.random.Generator) -> pl.DataFrame:
    """Return one row a session: each student once a week, now and then absent."""
    number, week = (grid.ravel() for grid in np.meshgrid(np.arange(STUDENTS), np.arange(WEEKS), indexing="ij"))
    seen = (rng.random(number.size) > 0.15) | (week == 0)
    seen &= ~((number >= STUDENTS - 3) & (week >= 2))
    number, week = number[seen], week[seen]
    nights = [START + timedelta(days=int(7 * w + n % 5)) for n, w in zip(number, week, strict=True)]
    begins = [datetime(d.year, d.month, d.day, 9 + int(n % 8)) for d, n in zip(nights, number, strict=True)]
    return pl.DataFrame(
        {
            "number": number,
            "week_number": week,
            "night": nights,
            "begins_at": begins,
            "session_id": [f"L{n:03d}-{w}" for n, w in zip(number, week, strict=True)],
            "student_id": [student_id(n) for n in number],
            "bay_id": [f"B{n % BAYS + 1:02d}" for n in number],
            "drilled": week % 2 == 0,
        }
    )


def shots(rng: np.random.Generator, played: pl.DataFrame) -> pl.DataFrame:
    """Return twelve driver and twelve iron shots a session."""
    frames = []
    for group, club in GROUPS.items():
        rows = played.join(pl.DataFrame({"ball": np.arange(12)}), how="cross")
        form = 0.3 * rows["week_number"].to_numpy() + np.sin(rows["number"].to_numpy())
        values = {
            metric: LEVELS[metric][group] + form * SHOT_SD[metric] * 0.4 + rng.normal(0, SHOT_SD[metric], rows.height)
            for metric in LEVELS
        }
        values["club_path"] += 0.6 * (values["attack_angle"] - LEVELS["attack_angle"][group])
        frames.append(
            rows.with_columns(
                pl.lit(club).alias("club"),
                pl.lit(group).alias("club_group"),
                *(pl.Series(metric, numbers) for metric, numbers in values.items()),
            )
        )
    made = pl.concat(frames).with_row_index("line", offset=2)
    struck = pl.col("begins_at") + pl.duration(seconds=pl.col("line") % 2400)
    return made.with_columns(
        struck.alias("struck_at"),
        struck.alias("struck_at_local"),
        pl.col("session_id").alias("lesson_id"),
        (pl.col("carry") * 1.02).alias("model_carry"),
        (pl.col("carry") + 22).alias("carry_available"),
        pl.lit(22.0).alias("carry_gap"),
        pl.lit(1.2).alias("air_density"),
        (pl.col("carry") * 1.01).alias("standard_carry"),
        (pl.col("club_speed") * 1.45).alias("ball_speed"),
        pl.lit(13.0).alias("launch_angle"),
        pl.lit("free").alias("phase"),
        pl.lit(0).alias("segment"),
        pl.lit(True).alias("usable"),
        pl.lit(False).alias("mishit"),
        pl.lit("SITE-A").alias("site_id"),
        (pl.col("night").cast(pl.String) + "/" + pl.col("bay_id") + ".csv").alias("path"),
    )


def keep(frame: pl.DataFrame, name: str) -> pl.DataFrame:
    """Keep the columns that a table declares."""
    return frame.select([column for column in frame.columns if column in TABLES[name].column_names])


def fill_core(connection: duckdb.DuckDBPyConnection, played: pl.DataFrame, struck: pl.DataFrame) -> None:
    """Fill shots, sessions, episodes and first blocks."""
    fill(connection, "core.shot", keep(struck, "core.shot"))
    fill(
        connection,
        "core.session",
        played.select(
            "night",
            "session_id",
            "student_id",
            "bay_id",
            "begins_at",
            week_start("night").alias("week"),
            pl.lit("lesson").alias("kind"),
            pl.lit("C1").alias("coach_id"),
            pl.lit("SITE-A").alias("site_id"),
            pl.lit(24).alias("shots"),
            pl.lit(24).alias("usable_shots"),
            pl.lit(0).alias("mishits"),
            pl.col("drilled").cast(pl.Int64).alias("drills"),
            (pl.col("begins_at") + pl.duration(minutes=50)).alias("ends_at"),
        ),
    )
    drilled = played.filter("drilled").with_columns(
        pl.col("number").map_elements(lambda n: DRILLS[n % 6][0], return_dtype=pl.String).alias("drill_id")
    )
    zero = [
        pl.lit(10).alias(name) for name in ("drill_shots", "pre_struck", "pre_mishits", "post_struck", "post_mishits")
    ]
    fill(
        connection,
        "core.drill_episode",
        drilled.select(
            "night",
            "student_id",
            "session_id",
            "bay_id",
            "drill_id",
            pl.col("session_id").alias("episode_id"),
            pl.lit("drill").alias("kind"),
            pl.lit("C1").alias("coach_id"),
            pl.lit("driver").alias("club"),
            pl.lit("driver").alias("club_group"),
            (pl.col("begins_at") + pl.duration(minutes=20)).alias("begins_at"),
            week_start("night").alias("week"),
            pl.lit(False).alias("end_assumed"),
            pl.lit(1).alias("position"),
            pl.lit(False).alias("followed_by_drill"),
            *zero,
        ),
    )
    long = struck.unpivot(
        list(LEVELS),
        index=["session_id", "student_id", "bay_id", "night", "begins_at", "drilled", "club", "club_group"],
        variable_name="metric",
    )
    keys = [column for column in long.columns if column != "value"]
    blocks = long.group_by(keys).agg(
        pl.len().alias("shots"),
        pl.col("value").mean().alias("centre"),
        (pl.col("value").var() / pl.len()).alias("variance"),
        pl.col("value").std().alias("spread"),
    )
    fill(connection, "core.block", keep(blocks.with_columns(pl.lit(0).alias("segment")), "core.block"))
    fill(
        connection,
        "core.first_block",
        blocks.with_columns(week_start("night").alias("week"), pl.lit(True).alias("coached")),
    )


def cohort(number: int) -> str:
    """Return a student's cohort."""
    return "Spring" if number % 2 else "Summer"


def cohort_row(metric: str, before: np.ndarray, after: np.ndarray) -> dict[str, Any]:
    """Return the means of a cohort's windows."""
    change = after - before
    error = 2.1 * change.std(ddof=1) / np.sqrt(change.size)
    return {
        "before_from": START,
        "before_to": START + timedelta(days=13),
        "after_from": START + timedelta(days=28),
        "after_to": START + timedelta(days=41),
        "students": change.size,
        "students_only_before": 1,
        "measure": "distance" if metric in DISTANCES else "centre",
        "before": before.mean(),
        "after": after.mean(),
        "change": change.mean(),
        "ci_low": change.mean() - error,
        "ci_high": change.mean() + error,
        "expected_change": 0.1,
        "share_beyond_mdc": 0.25,
        "spread_before": 2.0,
        "spread_after": 1.9,
        "spread_change": -0.05,
        "spread_low": -0.12,
        "spread_high": 0.02,
    }


def fill_students(connection: duckdb.DuckDBPyConnection, rng: np.random.Generator, played: pl.DataFrame) -> None:
    """Fill students, their changes and their cohorts; the last student has no consent, the first is a minor."""
    numbers = range(STUDENTS)
    last = dict(played.group_by("student_id").agg(pl.col("night").max()).iter_rows())
    fill(
        connection,
        "mart.student",
        [
            {
                "student_id": student_id(n),
                "name": None if n == STUDENTS - 1 else f"Given{n} Family{n}",
                "handed": "right",
                "joined_on": START - timedelta(days=40 * (n % 3)),
                "cohort": cohort(n),
                "age_group": "under 18" if n == 0 else "18 to 39",
                "minor": n == 0,
                "in_evidence": True,
                "sessions": 5,
                "last_seen": last.get(student_id(n)),
                "handicap": 12.0,
            }
            for n in numbers
        ],
    )
    changes, points, means = [], [], []
    for group in GROUPS:
        for metric in LEVELS:
            before = LEVELS[metric][group] + rng.normal(0, SHOT_SD[metric], STUDENTS)
            if metric in DISTANCES:
                before = np.abs(before) + 1
            after = before + rng.normal(0.5, 0.6, STUDENTS) * SHOT_SD[metric]
            mdc = 0.9 * SHOT_SD[metric]
            changes += [
                {
                    "student_id": student_id(n),
                    "club_group": group,
                    "metric": metric,
                    "first_week": START,
                    "latest_week": START + timedelta(weeks=WEEKS - 1),
                    "first_sessions": 2,
                    "latest_sessions": 2,
                    "first_centre": before[n],
                    "latest_centre": after[n],
                    "change": after[n] - before[n],
                    "ci_low": after[n] - before[n] - mdc,
                    "ci_high": after[n] - before[n] + mdc,
                    "expected_change": 0.1,
                    "change_beyond_expected": after[n] - before[n] - 0.1,
                    "minimal_detectable_change": mdc,
                    "beyond": bool(abs(after[n] - before[n]) > mdc),
                }
                for n in numbers
            ]
            for name in ("Spring", "Summer", "all students"):
                for window in ("term", "recent"):
                    rows = [n for n in numbers if name in (cohort(n), "all students")]
                    keys = {"cohort": name, "window_pair": window, "club_group": group, "metric": metric}
                    points += [
                        keys
                        | {
                            "student_id": student_id(n),
                            "before": before[n],
                            "after": None if n == STUDENTS - 2 else after[n],
                        }
                        for n in rows
                    ]
                    means.append(keys | cohort_row(metric, before[rows], after[rows]))
    fill(connection, "mart.student_change", changes)
    fill(connection, "mart.cohort_student", points)
    fill(connection, "mart.cohort_change", means)
    term = {"name": "Spring term", "from_date": START, "to_date": START + timedelta(days=82), "source": "academy"}
    fill(connection, "mart.term", [term | {"current": True}])


def fill_carry(connection: duckdb.DuckDBPyConnection) -> None:
    """Fill the cohorts' carry by week and month: measured carry rises with the warmth, the launches stay."""
    rows = [
        {"cohort": cohort, "period": period, "starts_on": start, "club_group": "driver", "students": 12, "shots": 300,
         "air_density": 1.24 - 0.01 * at, "carry": 205.0 + at, "carry_low": 201.0 + at, "carry_high": 209.0 + at,
         "standard_carry": 205.0, "standard_carry_low": 201.2, "standard_carry_high": 208.8, "difference": float(at),
         "difference_low": at - 0.5, "difference_high": at + 0.5}
        for cohort in ("Spring", "Summer")
        for period, starts in (
            ("week", [START + timedelta(weeks=week) for week in range(WEEKS)]),
            ("month", [START.replace(day=1), START.replace(month=START.month + 1, day=1)]),
        )
        for at, start in enumerate(starts)
    ]  # fmt: skip
    fill(connection, "mart.cohort_carry", rows)


def fill_goals(connection: duckdb.DuckDBPyConnection) -> None:
    """Fill one student's own goal and the reading of their latest session."""
    goal = {
        "student_id": "S001",
        "words": "hit up on it",
        "metric": "attack_angle",
        "club_group": "driver",
        "target": 3.0,
    }
    fill(connection, "mart.goal", [goal | {"by_date": START + timedelta(weeks=12)}])
    sentence = "Attack angle of 0.4° costs about 6 yd of carry."
    reading = {"student_id": "S001", "club_group": "driver", "session_id": "L001-5", "place": 1, "kind": "carry"}
    fill(connection, "mart.delivery_reading", [reading | {"metric": "attack_angle", "cost": 5.5, "sentence": sentence}])
