"""The ball and the world it flies in: the few constants that impact and flight share.

Not here: how it flies (flight_kernel) or how it is struck (delivery).
"""

from __future__ import annotations

MASS = 0.04593
"""Mass, kg: the most the rules of golf allow (equipment rules)."""
RADIUS = 0.021336
"""Radius, m: half of 1.680 in, the least diameter the rules of golf allow (equipment rules)."""
GRAVITY = 9.80665
"""Standard gravity, m/s^2."""
STANDARD_DENSITY = 1.225
"""Air at sea level in the standard atmosphere, kg/m^3 (ISO 2533)."""
AIR_VISCOSITY = 1.81e-5
"""Dynamic viscosity of air near 15 to 20 °C, Pa s."""
RADIANS_PER_SECOND_PER_RPM = 0.10471975511965977
"""pi / 30."""
