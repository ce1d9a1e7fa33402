"""What a bay adds to the truth: a constant error per number, one bay that drifts, a clock, numbers it fails to read.

Errors are in the bay's own frame (right is plus), added after a left-hander's numbers have been turned to it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from demo_data.academy import BAYS, Scenario, stream
from demo_data.ball import within_device_range

OFFSET_SD = {
    "club_speed": 0.45, "attack_angle": 0.55, "club_path": 0.7, "face_angle": 0.6, "dynamic_loft": 0.6,
    "ball_speed": 0.4, "launch_angle": 0.4, "launch_direction": 0.4, "spin_rate": 120.0, "spin_axis": 0.8,
    "carry": 2.0, "lateral": 1.2, "impact_toe": 1.5, "impact_high": 1.2,
}  # fmt: skip
"""Canonical units."""
MIRRORED = ("club_path", "face_angle", "launch_direction", "spin_axis", "lateral")
CLUB_NUMBERS = ("club_speed", "attack_angle", "club_path", "face_angle", "dynamic_loft", "impact_toe", "impact_high")
DRIFTING_BAY = "16"
DRIFT_TOTAL = {"attack_angle": 2.2, "club_path": -1.6}
FAST_CLOCK_BAY, CLOCK_SECONDS = "20", 180
MISSED_CLUB_SHARE, MISSED_SPIN_SHARE = 0.02, 0.015


@dataclass(frozen=True)
class BayErrors:
    """offset: metric -> (bays,); the drifting bay's numbers grow evenly from drift_from to drift_until, then stop."""

    offset: dict[str, np.ndarray]
    drift_from: int
    drift_until: int
    clock_from: int
    clock_until: int

    def clock_seconds(self, bay: np.ndarray, day: np.ndarray) -> np.ndarray:
        """Return how many seconds each bay's clock is ahead on each day number."""
        wrong = np.array([number[0] == FAST_CLOCK_BAY for number in BAYS])[bay]
        return np.where(wrong & (day >= self.clock_from) & (day < self.clock_until), CLOCK_SECONDS, 0)

    def drift(self, metric: str, day: np.ndarray) -> np.ndarray:
        """Return the drifting bay's extra error on each day number; a recalibration takes it away."""
        share = (day - self.drift_from) / (self.drift_until - self.drift_from)
        return np.where(day < self.drift_until, np.clip(share, 0, 1), 0.0) * DRIFT_TOTAL.get(metric, 0.0)


def draw_bay_errors(scenario: Scenario, seed: int) -> BayErrors:
    """Draw each bay's errors; they sum to zero over all bays, as only differences between bays can be seen."""
    draws = stream(seed, "bays")
    offset = {}
    for metric, sd in OFFSET_SD.items():
        drawn = draws.normal(0, sd, len(BAYS))
        offset[metric] = drawn - drawn.mean()
    days = scenario.days
    return BayErrors(offset, int(0.3 * days), int(0.79 * days), int(0.35 * days), int(0.6 * days))


def measure(numbers: dict[str, np.ndarray], left: np.ndarray, bay: np.ndarray, day: np.ndarray, errors: BayErrors,
            draws: np.random.Generator) -> dict[str, np.ndarray]:  # fmt: skip
    """Return what the bays report, as seen by the golfer (right is plus), NaN where the device missed a number."""
    drifting = np.array([number[0] == DRIFTING_BAY for number in BAYS])[bay]
    turn, seen = np.where(left, -1.0, 1.0), {}
    for metric, value in numbers.items():
        error = errors.offset[metric][bay] + np.where(drifting, errors.drift(metric, day), 0.0)
        seen[metric] = value * (turn if metric in MIRRORED else 1.0) + error
    seen = within_device_range(seen)
    missed_club, missed_spin = draws.random(bay.size) < MISSED_CLUB_SHARE, draws.random(bay.size) < MISSED_SPIN_SHARE
    for metric in CLUB_NUMBERS:
        seen[metric] = np.where(missed_club, np.nan, seen[metric])
    for metric in ("spin_rate", "spin_axis"):
        seen[metric] = np.where(missed_spin, np.nan, seen[metric])
    return seen


def planted_bays(scenario: Scenario, errors: BayErrors) -> pl.DataFrame:
    """Return one row a bay and number: the planted error, its drift and the clock's error."""
    rows = []
    for n, bay in enumerate(BAYS):
        if bay[0] not in scenario.bays:
            continue
        for metric in OFFSET_SD:
            total = DRIFT_TOTAL.get(metric, 0.0) if bay[0] == DRIFTING_BAY else 0.0
            clock = CLOCK_SECONDS if bay[0] == FAST_CLOCK_BAY else 0
            rows.append((bay[0], metric, round(float(errors.offset[metric][n]), 4), total, errors.drift_from,
                         errors.drift_until, clock, errors.clock_from, errors.clock_until))  # fmt: skip
    names = ["bay_id", "metric", "bay_offset", "drift_total", "drift_from_day", "drift_until_day", "clock_seconds",
             "clock_from_day", "clock_until_day"]  # fmt: skip
    return pl.DataFrame(rows, schema=names, orient="row")
