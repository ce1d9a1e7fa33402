"""Who may be in a list twice: found by name and date of birth, shown for a person to decide, never merged."""

from __future__ import annotations

import unicodedata
from collections import defaultdict
from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import Any


def normal_name(name: str) -> str:
    """Return a name without accents, case, punctuation and order of its parts."""
    bare = "".join(c for c in unicodedata.normalize("NFKD", name.casefold()) if not unicodedata.combining(c))
    parts = "".join(c if c.isalnum() else " " for c in bare).split()
    return " ".join(sorted(parts))


def likely_duplicates(rows: Sequence[Mapping[str, Any]]) -> list[tuple[Mapping[str, Any], Mapping[str, Any]]]:
    """Return pairs of rows with the same normalised name whose dates of birth agree or are not both known.

    Parameters
    ----------
    rows
        Students with `name` and `born_on` (None or empty where unknown).
    """
    by_name = defaultdict(list)
    for row in rows:
        by_name[normal_name(row["name"])].append(row)
    return [
        (one, other)
        for same in by_name.values()
        for one, other in combinations(same, 2)
        if not one.get("born_on") or not other.get("born_on") or one["born_on"] == other["born_on"]
    ]
