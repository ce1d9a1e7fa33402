"""Made drills, effects, responses and forecasts."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import duckdb
import numpy as np
import polars as pl
from made_tables import DRILLS, SHOT_SD, START, STUDENTS, fill, student_id

CAUTION = "An object near a swinging club: soft and light only, half speed first. Stop on any pain. The coach decides."


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
    means = {"carry_change": 6.0, "from_delivery": 4.9, **parts}
    summary = {name: value for name, value in means.items()}
    summary |= {f"{name}_low": value - 1.5 for name, value in means.items()}
    summary |= {f"{name}_high": value + 1.5 for name, value in means.items()}
    groups = [("drill", drill[0]) for drill in DRILLS] + [("cohort", "Spring"), ("free practice", "free practice")]
    fill(
        connection,
        "mart.carry_source_summary",
        [
            {"grouped_by": by, "group_id": name, "club_group": "driver", "episodes": 30, "students": 12} | summary
            for by, name in groups
        ],
    )
    fill(
        connection,
        "mart.carry_by_attack",
        [
            {
                "club_speed": v,
                "attack_angle": a,
                "dynamic_loft": 13 + 0.5 * a,
                "carry": 5 * v + 2.2 * a,
                "carry_low": 5 * v + 2.2 * a - abs(a),
                "carry_high": 5 * v + 2.2 * a + abs(a),
                "carry_change": 2.2 * a,
            }
            for v in (38.0, 42.0, 46.0)
            for a in np.arange(-5.0, 6.0)
        ],
    )
    fill(
        connection,
        "mart.drill_stop",
        [{"drill_id": "R1", "kind": "aid struck", "stops": 2, "last_on": START}],
    )
