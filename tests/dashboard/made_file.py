"""A small published file made from the declarations, with numbers by chance: it proves that pages read, no more."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import polars as pl

from warehouse.schema import core, drill_mart, mart, ops
from warehouse.schema.declaration import Table
from warehouse.schema.metrics import CLUB_GROUPS, METRICS

TABLES: dict[str, Table] = {table.name: table for module in (core, mart, drill_mart, ops) for table in module.TABLES}
START = date(2031, 3, 3)
WEEKS = 6
STUDENTS, BAYS = 24, 6
GROUPS = {"driver": "driver", "iron": "iron-7"}
LEVELS = {
    "attack_angle": {"driver": 0.5, "iron": -4.0},
    "club_path": {"driver": -1.0, "iron": 1.0},
    "club_speed": {"driver": 42.0, "iron": 34.0},
    "carry": {"driver": 205.0, "iron": 140.0},
    "face_to_path": {"driver": 1.5, "iron": 0.5},
    "dynamic_loft": {"driver": 13.0, "iron": 24.0},
}
DISTANCES = ("club_path", "face_to_path")
SHOT_SD = {
    "attack_angle": 1.4,
    "club_path": 2.0,
    "club_speed": 0.9,
    "carry": 9.0,
    "face_to_path": 2.0,
    "dynamic_loft": 1.5,
}
DRILLS = (
    ("R1", "Rod behind the ball", "attack_angle", "raise", None, "driver", 1.4, "works", "moderate"),
    ("R2", "High tee", "attack_angle", "raise", None, "driver", 0.6, "helps", "low"),
    ("R3", "Heavy club", "attack_angle", "raise", None, "driver", -0.9, "wrong way", "moderate"),
    ("R4", "Slow count", "attack_angle", "raise", None, "driver", 0.1, "no meaningful effect", "moderate"),
    ("R5", "New idea", "attack_angle", "raise", None, "driver", None, "too early", "very low"),
    ("R6", "Under the rod", "club_path", "toward", 1.0, "any", -0.8, "helps", "moderate"),
    ("R7", "Eyes closed", None, None, None, "any", None, None, None),
)
CAUTION = "An object near a swinging club: soft and light only, half speed first. Stop on any pain. The coach decides."


def fill(connection: duckdb.DuckDBPyConnection, name: str, rows: list[dict[str, Any]] | pl.DataFrame) -> None:
    """Insert rows into a declared table; columns not given are null."""
    table = TABLES[name]
    given = rows if isinstance(rows, pl.DataFrame) else pl.DataFrame(rows, infer_schema_length=None)
    extra = set(given.columns) - set(table.column_names)
    assert not extra, f"{name} has no column {extra}"
    connection.register("given", given)
    picked = ", ".join(
        f'"{column.name}"::{column.type}' if column.name in given.columns else f"null::{column.type}"
        for column in table.columns
    )
    connection.execute(f"insert into {name} select {picked} from given")
    connection.unregister("given")


def student_id(number: int) -> str:
    """Return the id of a student."""
    return f"S{number:03d}"


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


def week_start(column: str) -> pl.Expr:
    """Return the Monday of a date column."""
    return pl.col(column).dt.truncate("1w")


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
    fill(
        connection,
        "core.first_block",
        blocks.with_columns(week_start("night").alias("week"), pl.lit(True).alias("coached")),
    )


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
            for name in ("Spring", "Summer"):
                for window in ("term", "recent"):
                    rows = [n for n in numbers if cohort(n) == name]
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


def effect_row(drill: tuple[Any, ...], metric: str, measure: str, group: str, horizon: str, size: float | None) -> dict:
    """Return one effect; none where the size is none."""
    scale = {"transfer": 1.0, "retention": 0.5}[horizon]
    row: dict[str, Any] = {
        "drill_id": drill[0],
        "metric": metric,
        "measure": measure,
        "club_group": group,
        "horizon": horizon,
        "episodes": 40 if size is not None else 6,
        "students": 18 if size is not None else 4,
        "coaches": 2,
        "drawn_share": 0.1,
        "is_aim": metric == drill[2],
        "matters_from": 1.0,
        "better": ("down" if measure == "distance" else "up") if metric == drill[2] else None,
        "verdict": drill[7] if metric == drill[2] else None,
        "certainty": drill[8] or "low",
        "verdict_reason": "4 of 10 students, 6 of 20 episodes" if size is None else "both estimators agree",
        "certainty_reason": "starts moderate: drills were not drawn by lot",
        "comparator_alone": 60,
        "comparator_with_coach": 12,
    }
    if size is not None:
        value = size * scale
        row |= {
            "effect": value,
            "ci_low": value - 0.5,
            "ci_high": value + 0.5,
            "naive_change": value + 1.1,
            "free_change": 0.4,
            "shrunk_effect": value * 0.9,
            "shrunk_low": value - 0.5,
            "shrunk_high": value + 0.4,
            "check_effect": value,
            "check_low": value - 0.6,
            "check_high": value + 0.6,
            "p_value": 0.01,
            "q_value": 0.02,
            "responder_share": 0.3,
            "free_practice_responder_share": 0.05,
            "followed_share": 0.7,
            "robustness_value": 0.2,
        }
    return row


def fill_drills(connection: duckdb.DuckDBPyConnection, rng: np.random.Generator) -> None:
    """Fill drills, effects, responses, forecasts and what follows from them."""
    fill(
        connection,
        "mart.drill",
        [
            {
                "drill_id": d[0],
                "name": d[1],
                "aim_metric": d[2],
                "aim_direction": d[3],
                "aim_target": d[4],
                "club_group": d[5],
                "setup": "Lay it down 60 cm behind the ball.",
                "caution": CAUTION,
                "episodes": 40,
                "uses_per_week": 3.0,
                "last_used": START + timedelta(days=30),
            }
            for d in DRILLS
        ],
    )
    effects, responses, forecasts = [], [], []
    for drill in DRILLS[:6]:
        measure = "distance" if drill[3] == "toward" else "centre"
        groups = ("driver", "iron", "any") if drill[5] == "any" else (drill[5],)
        for group in groups:
            for horizon in ("transfer", "retention"):
                effects.append(effect_row(drill, drill[2], measure, group, horizon, drill[6]))
                effects += [
                    effect_row(drill, side, "centre", group, horizon, 0.4 * SHOT_SD[side])
                    for side in ("dynamic_loft", "carry")
                ]
            if group == "any" or drill[6] is None:
                continue
            answer = np.sort(rng.normal(drill[6], 0.4, 12))[::-1]
            luck = np.sort(rng.normal(drill[6], 0.3, 12))[::-1]
            ids = {"drill_id": drill[0], "metric": drill[2], "club_group": group}
            ids["measure"] = measure
            responses += [
                ids
                | {
                    "strip": strip,
                    "place": n + 1,
                    "student_id": student_id(n) if strip == "drill" else None,
                    "episodes": 2,
                    "response": values[n],
                    "response_low": values[n] - 0.5,
                    "response_high": values[n] + 0.5,
                }
                for strip, values in (("drill", answer), ("free_practice", luck))
                for n in range(12)
            ]
            forecasts += [
                ids
                | {
                    "student_id": student_id(n),
                    "expected_effect": drill[6],
                    "interval_low": drill[6] - 1.0,
                    "interval_high": drill[6] + 1.0,
                    "gap": n / 4 - 2,
                    "free_practice_change": 0.2,
                    "episodes": n % 3,
                }
                for n in range(STUDENTS)
            ]
    fill(connection, "mart.drill_effect", effects)
    fill(connection, "mart.student_response", responses)
    fill(connection, "mart.drill_forecast", forecasts)
    fill(
        connection,
        "mart.drill_side_effect",
        [
            {
                "drill_id": d[0],
                "club_group": "driver",
                "outcome": kind,
                "episodes": 40,
                "students": 18,
                "before": 0.06,
                "after": 0.11,
                "effect": 0.05,
                "ci_low": 0.01,
                "ci_high": 0.09,
                "warning": d[0] == "R3",
            }
            for d in DRILLS
            for kind in ("mishit_share", "unmeasured_share")
        ],
    )
    fill(
        connection,
        "mart.subgroup_effect",
        [
            {
                "drill_id": "R1",
                "metric": "attack_angle",
                "club_group": "driver",
                "measure": "centre",
                "characteristic": "handicap",
                "level": level,
                "episodes": 20,
                "students": 9,
                "effect": 1.2,
                "ci_low": 0.4,
                "ci_high": 2.0,
                "q_value": 0.6,
                "finding": "no difference found",
            }
            for level in ("under 10", "10 to 19")
        ],
    )
    parts = {
        "from_club_speed": 0.4,
        "from_contact": 1.0,
        "from_attack_angle": 4.0,
        "from_dynamic_loft": -0.6,
        "from_spin": 0.5,
        "remainder": 0.7,
    }
    rows = connection.execute("select episode_id, drill_id, student_id from core.drill_episode").pl()
    fill(
        connection,
        "mart.carry_source",
        rows.with_columns(
            pl.lit("driver").alias("club_group"),
            pl.lit(6.0).alias("carry_change"),
            *(pl.lit(value).alias(name) for name, value in parts.items()),
        ),
    )
    fill(
        connection,
        "mart.carry_by_delivery",
        [
            {
                "club_speed": v,
                "attack_angle": a,
                "dynamic_loft": 13 + 0.5 * a,
                "ball_speed": 1.45 * v,
                "launch_angle": 12.0,
                "spin_rate": 2600.0,
                "carry": 5 * v + 2.2 * a,
                "best_loft": True,
            }
            for v in (38.0, 42.0, 46.0)
            for a in np.arange(-5.0, 6.0)
        ],
    )
    fill(
        connection,
        "mart.attention",
        [
            {
                "rank": 1,
                "kind": "drill hurts",
                "subject_id": "R3",
                "metric": "attack_angle",
                "since": START,
                "sentence": "Heavy club lowers attack angle and is still used 3 times a week.",
            },
            {
                "rank": 2,
                "kind": "sliding",
                "subject_id": "S000",
                "metric": "attack_angle",
                "since": START,
                "sentence": "Driver attack angle has fallen two weeks running.",
            },
            {
                "rank": 3,
                "kind": "bay drifts",
                "subject_id": "B02",
                "metric": "club_path",
                "since": START,
                "sentence": "Club path has drifted by 1.2 deg.",
            },
        ],
    )


def fill_bays(connection: duckdb.DuckDBPyConnection, rng: np.random.Generator, nights: list[date]) -> None:
    """Fill bays, their nights, files, offsets and clocks, one of each kind of trouble on the last night."""
    bays = [f"B{n + 1:02d}" for n in range(BAYS)]
    fill(
        connection,
        "mart.bay",
        [
            {
                "bay_id": b,
                "site_id": "SITE-A",
                "site_name": "North shore",
                "timezone": "UTC",
                "altitude_m": 10.0,
                "air_density": 1.22,
                "export_profile": "plain",
                "setting": "indoor",
                "ball": "range",
            }
            for b in bays
        ],
    )
    grid, files, rejected = [], [], []
    for night in nights:
        for n, bay in enumerate(bays):
            state = {1: "silent", 2: "refused"}.get(n, "reported") if night == nights[-1] else "reported"
            reason = "its compression ends early" if state == "refused" else None
            path = f"{night}/{bay}.csv"
            grid.append(
                {
                    "night": night,
                    "bay_id": bay,
                    "site_id": "SITE-A",
                    "state": state,
                    "files": 1,
                    "reason": reason,
                    "shots": int(rng.integers(60, 140)) if state == "reported" else 0,
                    "rejected": n % 3,
                    "duplicates": 0,
                    "unattributed": 2,
                    "lessons": 4,
                    "late": n == 3 and night == nights[-1],
                }
            )
            if state != "silent":
                files.append(
                    {
                        "night": night,
                        "bay_id": bay,
                        "path": path,
                        "content_hash": "0",
                        "reason": reason,
                        "rows_read": 100,
                        "status": "refused" if reason else "loaded",
                        "rows_loaded": 99,
                        "rows_rejected": 1,
                        "rows_duplicate": 0,
                        "read_at": datetime(2031, 4, 20, 3),
                    }
                )
                rejected.append(
                    {
                        "path": path,
                        "line": 7,
                        "column_name": "ball_speed",
                        "value": "fast",
                        "reason": "unparsable",
                        "detail": "a number was expected; check the profile's decimal mark",
                    }
                )
    fill(connection, "mart.bay_night", grid)
    fill(connection, "ops.export_file", files)
    fill(connection, "ops.rejected_row", rejected)
    metrics = ("club_path", "attack_angle")
    offsets = dict(zip(bays, rng.normal(0, 0.6, BAYS), strict=True))
    fill(
        connection,
        "mart.bay_offset",
        [
            {
                "bay_id": b,
                "metric": m,
                "bay_offset": offsets[b],
                "ci_low": offsets[b] - 0.4,
                "ci_high": offsets[b] + 0.4,
                "overlap_students": 9,
                "comparable_set": 1,
                "drifting": b == "B02",
                "from_date": START,
            }
            for b in bays
            for m in metrics
        ],
    )
    fill(
        connection,
        "mart.bay_week",
        [
            {
                "bay_id": b,
                "metric": m,
                "week": START + timedelta(weeks=w),
                "weekly_offset": offsets[b] + 0.1 * w,
                "standard_error": 0.2,
                "cusum_high": float(w),
                "cusum_low": 0.0,
                "drifting": b == "B02" and w > 3,
            }
            for b in bays
            for m in metrics
            for w in range(WEEKS)
        ],
    )
    fill(
        connection,
        "mart.bay_clock",
        [
            {
                "bay_id": b,
                "lessons": 12,
                "ahead_seconds": 185.0 if b == "B04" else 4.0,
                "set_seconds": 0.0,
                "out_of_step": b == "B04",
            }
            for b in bays
        ],
    )


def make(path: Path, *, empty: bool = False) -> None:
    """Write a published file; an empty one has every table and a publication, and nothing else but metrics."""
    rng = np.random.default_rng(7)
    path.parent.mkdir(parents=True, exist_ok=True)
    connection = duckdb.connect(str(path))
    for schema in ("core", "mart", "ops"):
        connection.execute(f"create schema {schema}")
    for table in TABLES.values():
        body = ", ".join(f'"{column.name}" {column.type}' for column in table.columns)
        connection.execute(f"create table {table.name} ({body})")
    fill(
        connection,
        "mart.metric",
        [
            {
                "metric": m.name,
                "club_group": g,
                "label": m.label,
                "unit": m.unit,
                "display_unit": m.display_unit,
                "per_display_unit": m.per_display_unit,
                "decimals": m.decimals,
                "low": m.low,
                "high": m.high,
                "matters_from": m.matters_from,
                "better": m.better_for(g),
                "derived": m.derived,
                "description": m.description,
            }
            for m in METRICS
            for g in CLUB_GROUPS
        ],
    )
    fill(
        connection,
        "mart.dictionary",
        [
            {
                "table_name": t.name,
                "column_name": c.name,
                "type": c.type,
                "unit": c.unit,
                "nullable": c.nullable,
                "description": c.description,
            }
            for t in TABLES.values()
            for c in t.columns
        ],
    )
    nights = [START + timedelta(days=d) for d in range(7 * WEEKS)]
    fill(
        connection,
        "ops.publication",
        [
            {
                "published_at": datetime(2031, 4, 14, 3, 12),
                "through_night": None if empty else nights[-1],
                "nights": 42,
                "shots": 2400,
                "sessions": 120,
                "episodes": 60,
                "nights_built": 1,
                "warnings": "",
            }
        ],
    )
    if not empty:
        played = sessions(rng)
        fill_core(connection, played, shots(rng, played))
        fill_students(connection, rng, played)
        fill_drills(connection, rng)
        fill_bays(connection, rng, nights[-16:])
    connection.close()


def make_home(home: Path, *, empty: bool = False) -> Path:
    """Write a home with a published version and the link to it."""
    version = home / "published" / "2031-04-14T0312.duckdb"
    make(version, empty=empty)
    (home / "published" / "current.duckdb").symlink_to(version.name)
    return home
