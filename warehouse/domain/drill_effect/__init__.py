"""What a drill changed beyond free practice."""

from __future__ import annotations

from importlib import import_module
from typing import Any

CONTRACT = ("estimate",)
"""Names that stand for the package; loaded when asked for, since they bring heavy libraries."""


def __getattr__(name: str) -> Any:
    """Return a name of the contract."""
    if name in CONTRACT:
        return getattr(import_module("warehouse.domain.drill_effect.headline"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
