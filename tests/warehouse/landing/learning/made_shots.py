"""Shots drawn by rules of thumb of their own, so that what is learnt back is not the learner's own physics.

The flight is stepped here with simple coefficients, impact goes by simple shares; warehouse/domain is not used.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import polars as pl

LOFTS = {
    "driver": 11, "wood-3": 15, "wood-5": 19, "hybrid-4": 22, "iron-5": 26, "iron-6": 29, "iron-7": 33, "iron-8": 37,
    "iron-9": 41, "wedge-pitching": 46, "wedge-gap": 51, "wedge-sand": 56,
}  # fmt: skip
PEOPLE = {
    "017": "Oriel Vantaska", "018": "Mirre Doskander", "019": "Tolve Abrenzik", "020": "Samile Quorren",
}  # fmt: skip
ZERO_DAY = dt.datetime(2025, 3, 14, 9, 12, 7)


@dataclass(frozen=True)
class Golfer:
    """One invented golfer: speed, and where path and face usually point."""

    speed: float
    path: float
    face: float
    attack: float


def draw(shots: int = 90, seed: int = 1, people: tuple[str, ...] = ("017", "018"), start: dt.datetime = ZERO_DAY,
         clubs: tuple[str, ...] = ("driver", "wood-3", "hybrid-4", "iron-5", "iron-7", "iron-9", "wedge-sand"),
         ) -> pl.DataFrame:  # fmt: skip
    """Return shots in canonical units and signs, in the order of time; whole sessions a person, blocks a club."""
    random = np.random.default_rng(seed)
    who = np.repeat(people, -(-shots // len(people)))[:shots]
    golfers = {name: Golfer(*random.normal((39, 0, 0.5, 0.5), (3, 2.5, 1.8, 1.8))) for name in people}
    club = np.array([clubs[(n // 5) % len(clubs)] for n in range(shots)])
    loft = np.array([LOFTS[name] for name in club], dtype=float)

    def of(name: str) -> np.ndarray:
        return np.array([getattr(golfers[one], name) for one in who])

    club_speed = of("speed") * (1 - 0.0058 * (loft - 11)) * random.normal(1, 0.02, shots)
    attack = of("attack") - 0.13 * (loft - 11) + random.normal(0, 1.2, shots)
    path, face = of("path") + random.normal(0, 2.2, shots), of("face") + random.normal(0, 2.4, shots)
    dynamic = 4.5 + 0.72 * loft + 0.5 * (attack - of("attack")) + random.normal(0, 1.4, shots)
    smash = np.clip(1.5 - 0.0075 * (loft - 8) + random.normal(0, 0.02, shots), 0.8, 1.51)
    ball = club_speed * smash
    launch = 0.83 * dynamic + 0.12 * attack + random.normal(0, 0.4, shots)
    direction = 0.78 * face + 0.2 * path + random.normal(0, 0.3, shots)
    spin = 62.0 * club_speed * np.sin(np.radians(dynamic - attack)) * 4.6 * random.normal(1, 0.06, shots)
    axis = np.degrees(np.arctan(1.9 * np.radians(face - path) / np.radians(np.maximum(dynamic - attack, 6)))) * 0.9
    axis = axis + random.normal(0, 1.2, shots)
    carry, side = _flight(ball, launch, direction, spin, axis)
    seconds = np.cumsum(random.integers(24, 70, shots))
    return pl.DataFrame({
        "struck_at": [start + dt.timedelta(seconds=int(second)) for second in seconds],
        "student_id": who, "club": club, "club_speed": club_speed, "attack_angle": attack, "club_path": path,
        "face_angle": face, "dynamic_loft": dynamic, "launch_angle": launch, "launch_direction": direction,
        "ball_speed": ball, "spin_rate": spin, "spin_axis": axis, "carry": carry, "lateral": side,
        "impact_toe": random.normal(1, 8, shots), "impact_high": random.normal(0, 6, shots),
    })  # fmt: skip


def _flight(
    ball: np.ndarray, launch: np.ndarray, direction: np.ndarray, spin: np.ndarray, axis: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return (carry, side) in metres: Euler steps, drag 0.24, lift a simple power of the spin."""
    up, aside, turn = np.radians(launch), np.radians(direction), np.radians(axis)
    velocity = ball * np.array([np.cos(up) * np.cos(aside), np.sin(up), np.cos(up) * np.sin(aside)])
    place, landed, step = np.zeros_like(velocity), np.zeros_like(velocity), 0.02
    flying = np.ones(len(ball), dtype=bool)
    for _ in range(600):
        speed = np.linalg.norm(velocity, axis=0)
        lift = np.minimum(0.27, 1.5 * (spin * 0.10472 * 0.02135 / np.maximum(speed, 1)) ** 0.85)
        k = 0.5 * 1.2 * np.pi * 0.02135**2 / 0.04593 * speed
        flat = np.hypot(velocity[0], velocity[2])
        over = np.array([-velocity[0] * velocity[1], flat**2, -velocity[2] * velocity[1]]) / (flat * speed) * speed
        right = np.array([-velocity[2], np.zeros_like(flat), velocity[0]]) / flat * speed
        pull = -0.24 * velocity + lift * (np.cos(turn) * over + np.sin(turn) * right)
        velocity = velocity + step * (k * pull - np.array([[0.0], [9.81], [0.0]]))
        place = place + step * velocity
        down = flying & (place[1] < 0)
        landed[:, down], flying = place[:, down], flying & ~down
    return landed[0], landed[2]
