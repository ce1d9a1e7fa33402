"""Club delivery: impact, what it costs in carry, what could be reached."""

from __future__ import annotations

from importlib import import_module
from typing import Any

CONTRACT = ("Launch", "launch")
"""Names that stand for the package; loaded when asked for, since they bring heavy libraries."""


def __getattr__(name: str) -> Any:
    """Return a name of the contract."""
    if name in CONTRACT:
        return getattr(import_module("warehouse.domain.delivery.impact"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
