"""Made bays, nights, files, offsets and clocks."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import duckdb
import numpy as np
from made_tables import BAYS, START, WEEKS, fill


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
