"""Club names as people write them: "7i", "7 Iron", "IRON-7", "5 wood", "PW". Not here: names that only a map knows."""

from __future__ import annotations

import re
from collections.abc import Mapping

from warehouse.landing.profile.column_source import CLUB_WORDS
from warehouse.schema.metrics import CLUBS

WORDS = {
    "driver": "driver", "dr": "driver", "drv": "driver", "d": "driver",
    "wood": "wood", "woods": "wood", "w": "wood", "wd": "wood", "fairway": "wood", "fw": "wood",
    "hybrid": "hybrid", "hybrids": "hybrid", "hyb": "hybrid", "hy": "hybrid", "h": "hybrid",
    "iron": "iron", "irons": "iron", "i": "iron", "ir": "iron",
    "wedge": "wedge", "wdg": "wedge",
    "pitching": "pitching", "pitch": "pitching", "pw": "pitching",
    "gap": "gap", "gw": "gap", "approach": "gap", "aw": "gap", "a": "gap",
    "sand": "sand", "sw": "sand", "s": "sand", "lob": "lob", "lw": "lob", "l": "lob", "p": "pitching", "g": "gap",
}  # fmt: skip
"""Words and abbreviations of the trade (common practice, no source) -> what they say."""
SORTS_OF_WEDGE = ("pitching", "gap", "sand", "lob")
ONLY_WITH_WEDGE = {"p", "g", "s", "l", "a", "approach", "pitch"}
"""Too short or too broad to be a wedge by themselves."""
PIECE = re.compile(r"[0-9]+|[^\W\d_]+")


def fold(text: str) -> str:
    """Return a name as it is compared: case, blanks at its ends and doubled ones aside."""
    return " ".join(text.split()).casefold()


def read_club(text: str, mapping: Mapping[str, str] | None = None) -> str | None:
    """Return the canonical club that a name says; None where it says none, or not which.

    Parameters
    ----------
    text
        The name.
    mapping
        The profile's map: a whole name to a club, or a word inside a name to one of iron, wood, hybrid, wedge, driver.
    """
    known = {fold(name): club for name, club in (mapping or {}).items()}
    whole = known.get(fold(text))
    if whole in CLUBS:
        return whole
    words = {name: word for name, word in known.items() if word in CLUB_WORDS}
    spelled = fold(text)
    for name, word in sorted(words.items(), key=lambda entry: -len(entry[0])):
        spelled = re.sub(rf"(?<![^\W\d_]){re.escape(name)}(?![^\W\d_])", f" {word} ", spelled)
    return _from_pieces(PIECE.findall(spelled))


def _from_pieces(pieces: list[str]) -> str | None:
    numbers = [int(piece) for piece in pieces if piece.isdigit()]
    letters = [piece for piece in pieces if not piece.isdigit()]
    if any(letter not in WORDS for letter in letters):
        return None
    said = [WORDS[letter] for letter in letters]
    sorts = {word for word in said if word in SORTS_OF_WEDGE}
    groups = {word for word in said if word in CLUB_WORDS}
    if sorts and len(sorts) == 1 and not numbers and groups <= {"wedge"}:
        bare = "wedge" not in groups and set(letters) <= ONLY_WITH_WEDGE
        return None if bare else f"wedge-{next(iter(sorts))}"
    if sorts or len(groups) != 1:
        return None
    (group,) = groups
    if group == "driver":
        return "driver" if numbers in ([], [1]) else None
    if group == "wood" and numbers == [1]:
        return "driver"
    club = f"{group}-{numbers[0]}" if len(numbers) == 1 else None
    return club if club in CLUBS else None
