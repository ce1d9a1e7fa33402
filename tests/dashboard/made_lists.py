"""Made lists: what needs attention, students listed, events, and what set-up went with."""

from __future__ import annotations

from datetime import timedelta

import duckdb
from made_tables import START, WEEKS, fill

LATEST = START + timedelta(weeks=WEEKS - 1)
SEEN = (
    ("ball forward of body centre", "cm", 14, 31, 3.0, 0.4, 0.2, 0.6, 0.001, "goes with"),
    ("stance width", "cm", 12, 24, 5.0, 0.02, -0.1, 0.14, 0.7, "not told apart from none"),
    ("tee height above the crown", "cm", 4, 5, 1.0, None, None, None, None, "too few"),
)


def fill_lists(connection: duckdb.DuckDBPyConnection) -> None:
    """Fill attention, the students listed, one event and the associations of set-up."""
    needs = [
        {"kind": "drill goes the wrong way", "subject_id": "R3", "metric": "attack_angle", "club_group": "driver",
         "since": START, "amount": 3.0},
        {"kind": "student slides", "subject_id": "S000", "metric": "attack_angle", "club_group": "driver",
         "since": START, "counted": 1, "amount": 0.05},
        {"kind": "bay drifts", "subject_id": "B02", "metric": "club_path", "since": START, "counted": 2},
    ]  # fmt: skip
    fill(connection, "mart.attention", [{"rank": rank, **need} for rank, need in enumerate(needs, start=1)])
    people = (("S000", "worse"), ("S001", "better"), ("S002", "better"), ("S003", None))
    fill(
        connection,
        "mart.student_list",
        [
            {
                "student_id": student, "metric": "attack_angle", "club_group": "driver", "latest_week": LATEST,
                "change_beyond_expected": {"worse": -2.0, "better": 2.0}.get(side or "", 0.1), "p_value": 0.001,
                "q_value": 0.004, "side": side, "side_week_before": side, "listed": side is not None,
            }
            for student, side in people
        ],
    )  # fmt: skip
    fill(
        connection,
        "core.interruption",
        [{"student_id": "S001", "club": "driver", "on_date": START + timedelta(days=10), "kind": "club changed"}],
    )
    fill(
        connection,
        "mart.setup_association",
        [
            dict(zip(("measure", "unit", "students", "pairs", "typical_change", "slope", "slope_low", "slope_high",
                      "q_value", "finding"), row, strict=True))
            | {"metric": "attack_angle", "club_group": "driver", "p_value": row[8]}
            for row in SEEN
        ],
    )  # fmt: skip
