"""The planted truth as tables. Tests read them; nothing that computes evidence may."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import polars as pl

from demo_data.academy import ATTACK, BAYS, CLUBS, FACE_TO_PATH, FIRST_DAY, LATENT, LOFT, PATH
from demo_data.drills import DRILLS
from demo_data.effects import Episode, Responses
from demo_data.timetable import KINDS, Sessions

SHOWN = (*LATENT, "face_angle", "spin_loft")
"""Numbers whose shift is written down: the drawn ones and the two that are their sums."""
FOLLOWED_DAYS = 21


def _shown(shift: np.ndarray) -> np.ndarray:
    return np.concatenate((shift, [shift[PATH] + shift[FACE_TO_PATH], shift[LOFT] - shift[ATTACK]]))


def _day(day: int) -> str:
    return (FIRST_DAY + timedelta(days=int(day))).isoformat()


def planted_episodes(sessions: Sessions, episodes: list[Episode], lesson: np.ndarray, ids: np.ndarray) -> pl.DataFrame:
    """One row an episode and number that the drill aims at or shifts.

    transfer: the shift left for the rest of the session; distance_change: for an aim toward a target, the change in
    distance (down is better); kept: what is left of the shift at the next day with this club, if within 21 days;
    distance_kept: the same of distance_change.
    """
    rows = []
    for n, e in enumerate(episodes):
        drill, s = DRILLS[e.drill], e.session
        club, group = CLUBS[sessions.club[s]]
        transfer, kept = _shown(e.shift), _shown(e.kept)
        soon = 0 < e.next_day - sessions.day[s] <= FOLLOWED_DAYS
        for metric, value, left in zip(SHOWN, transfer, kept, strict=True):
            aim = metric == drill.aim_metric
            if not aim and value == 0:
                continue
            toward = aim and drill.aim_direction == "toward"
            rows.append((n, lesson[s], _day(sessions.day[s]), drill.drill_id, ids[sessions.student[s]],
                         BAYS[sessions.bay[s]][0], club, group, e.chosen_by, metric, aim, round(float(value), 4),
                         -round(float(e.gain), 4) if toward else None, _day(e.next_day) if soon else None,
                         round(float(left), 4) if soon else None,
                         -round(float(e.gain * left / value), 4) + 0.0 if soon and toward and value else None,
                         round(float(e.pre_look), 4)))  # fmt: skip
    names = ["episode", "lesson_id", "night", "drill_id", "student_id", "bay_id", "club", "club_group", "chosen_by",
             "metric", "is_aim", "transfer", "distance_change", "next_night", "kept", "distance_kept",
             "looked_worse_sd"]  # fmt: skip
    return pl.DataFrame(rows, schema=names, orient="row", infer_schema_length=None)


def planted_drills(episodes: pl.DataFrame) -> pl.DataFrame:
    """One row a drill and number: what was planted, and what that came to over the episodes done."""
    rows = []
    for drill in DRILLS:
        for metric in dict.fromkeys((*([drill.aim_metric] if drill.aim_metric else []), *drill.shift)):
            aim = metric == drill.aim_metric
            mean = drill.shift.get(metric, 0.0)
            rows.append((drill.drill_id, metric, aim, drill.club_group, drill.aim_direction if aim else "", mean,
                         drill.student_sd if aim else 0.0, drill.slope if aim else 0.0, drill.retained,
                         mean == 0.0))  # fmt: skip
        if not drill.aim_metric:
            rows.append((drill.drill_id, "", False, drill.club_group, "", 0.0, 0.0, 0.0, 0.0, True))
    names = ["drill_id", "metric", "is_aim", "club_group", "aim_direction", "planted_mean", "student_sd",
             "slope_on_gap", "retained_share", "is_null"]  # fmt: skip
    done = episodes.group_by("drill_id", "metric").agg(
        pl.col("transfer").mean().round(4).alias("mean_transfer"),
        pl.col("distance_change").mean().round(4).alias("mean_distance_change"),
        pl.col("kept").mean().round(4).alias("mean_kept"),
        pl.col("distance_kept").mean().round(4).alias("mean_distance_kept"),
        pl.len().alias("episodes"), pl.col("student_id").n_unique().alias("students"),
    )  # fmt: skip
    return pl.DataFrame(rows, schema=names, orient="row").join(
        done, on=["drill_id", "metric"], how="left", maintain_order="left")  # fmt: skip


def planted_responses(responses: Responses, ids: np.ndarray) -> pl.DataFrame:
    """One row a student and drill with an aim: how this student answers it (`toward`: the distance it takes off)."""
    rows = [
        (ids[s], drill.drill_id, drill.aim_metric, round(float(responses.own[s, d]), 4),
         round(float(responses.gap[s, d]), 4))
        for s in range(len(ids) - 1) for d, drill in enumerate(DRILLS) if drill.aim_metric
    ]  # fmt: skip
    return pl.DataFrame(rows, schema=["student_id", "drill_id", "metric", "response", "gap_sd"], orient="row")


def planted_sessions(sessions: Sessions, lesson: np.ndarray, ids: np.ndarray, overruns: np.ndarray,
                     dead: np.ndarray) -> pl.DataFrame:  # fmt: skip
    """One row a session as it was really hit; student_id is empty for guests."""
    return pl.DataFrame({
        "session": np.arange(len(sessions)), "lesson_id": lesson, "student_id": ids[sessions.student],
        "bay_id": np.array([b[0] for b in BAYS])[sessions.bay], "night": [_day(d) for d in sessions.day],
        "hour": sessions.hour, "kind": np.array(KINDS)[sessions.kind], "sharing": sessions.mates,
        "club": np.array([c[0] for c in CLUBS])[sessions.club], "shots": sessions.shots,
        "warm_shots": sessions.warm_shots, "overran": overruns, "bay_was_dead": dead,
    })  # fmt: skip
