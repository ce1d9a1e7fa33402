"""Numbers as pages show them: an angle better up, one better near zero, a length in yards."""

from __future__ import annotations

from dashboard.shell.number_format import Shown

ANGLE = Shown("attack_angle", "attack angle", "°", 1.0, 1, 1.0, "up")
PATH = Shown("club_path", "club path", "°", 1.0, 1, 1.0, "zero")
CARRY = Shown("carry", "carry", "yd", 0.9144, 0, 4.5, "up")
