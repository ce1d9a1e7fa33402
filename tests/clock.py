"""Time in tests: how long something is waited for, and a time zone in which no day ends meanwhile."""

from __future__ import annotations

from datetime import UTC, datetime

PATIENCE = 120
"""Seconds after which what is waited for is taken to hang; a busy machine may need most of them."""
TEN = 10


def morning_zone() -> str:
    """Return the IANA name of a zone in which it is between ten and eleven now."""
    ahead = TEN - datetime.now(UTC).hour
    ahead += 24 if ahead < -12 else 0
    return f"Etc/GMT{-ahead:+d}"  # the database counts these westward: Etc/GMT-3 is three hours ahead
