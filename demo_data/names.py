"""Names of people who do not exist, built from syllables."""

from __future__ import annotations

import numpy as np

_FIRST = ("Ba", "Ce", "Dro", "El", "Fi", "Gha", "Hel", "Is", "Jo", "Kev", "Lu", "Mir", "Nal", "Os", "Per", "Ru")
_MIDDLE = ("ba", "de", "lo", "mi", "ne", "ra", "ri", "so", "ta", "vi")
_LAST = ("k", "l", "m", "n", "r", "s", "th", "va", "x", "lle")
_FAMILY = ("Abre", "Bel", "Cor", "Dun", "Este", "Fal", "Gri", "Hol", "Ist", "Kor", "Lam", "Mor", "Nor", "Ost", "Pel")
_FAMILY_END = ("addin", "borne", "cask", "drell", "evane", "fenn", "gost", "hurst", "imond", "jarn", "kin", "lowe")


def invent(count: int, draws: np.random.Generator) -> list[str]:
    """Return `count` different invented names."""
    names: list[str] = []
    seen: set[str] = set()
    while len(names) < count:
        first = "".join(str(draws.choice(part)) for part in (_FIRST, _MIDDLE, _LAST))
        family = "".join(str(draws.choice(part)) for part in (_FAMILY, _FAMILY_END))
        name = f"{first} {family}"
        if name not in seen:
            seen.add(name)
            names.append(name)
    return names
