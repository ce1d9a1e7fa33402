"""A profile in which questions are still open: "?" where an answer goes, as `academy learn-export` writes it.

What may be missing is left out until it is answered, so that nothing is read by a guess; what may not stops all.
"""

from __future__ import annotations

from copy import deepcopy
from typing import Any

from warehouse.landing.profile.column_source import MAY_LACK, REQUIRED

OPEN = "?"


def without_open(said: dict[str, Any]) -> tuple[dict[str, Any], list[str]]:
    """Return what a profile says without its open questions, and the keys of those that leave something out.

    Raises
    ------
    ValueError
        A question is open without whose answer no shot can be read.
    """
    answered, keys = deepcopy(said), open_keys(said)
    must = [key for key in keys if not _may_wait(key)]
    if must:
        raise ValueError(f'{must[0]}: is a question that is still open: write the answer in place of "?"')
    for key in keys:
        section, name, *rest = key.split(".", 3)
        if rest[:1] == ["map"] and isinstance(answered.get(section, {}).get(name), dict):
            answered[section][name]["map"].pop(rest[1], None)
        else:
            answered.get(section, {}).pop(name, None)
    return answered, keys


def open_keys(said: Any, above: str = "") -> list[str]:
    """Return the dotted keys at which "?" stands."""
    if isinstance(said, dict):
        return [
            key for name, part in said.items() for key in open_keys(part, f"{above}.{name}" if above else str(name))
        ]
    if isinstance(said, list):
        return [above] if OPEN in said else []
    return [above] if said == OPEN else []


def _may_wait(key: str) -> bool:
    section, _, rest = key.partition(".")
    name, _, part = rest.partition(".")
    if section == "columns":
        return name not in REQUIRED or part.startswith("map.") or (name in MAY_LACK and part == "positive")
    return section == "inbox" and part.startswith("map.")
