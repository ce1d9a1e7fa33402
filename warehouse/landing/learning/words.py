"""What a header says: its words taken apart into concepts, and what those mean together; units and sides said in it.

The words stand in header_words.toml. Not here: what the values under a header say (physics.py).
"""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

WORDS_FILE = Path(__file__).with_name("header_words.toml")
SHORTEST_PART = 3
LEAST_COVERED = 0.7
UNKNOWN_WORD, UNUSED_CONCEPT = 0.7, 1.0
"""What a word that nobody knows, and a concept that a meaning does not need, take from its score."""
FILLERS = frozenset(
    [
        "the",
        "a",
        "an",
        "of",
        "at",
        "in",
        "on",
        "der",
        "die",
        "das",
        "des",
        "dem",
        "im",
        "am",
        "beim",
        "de",
        "du",
        "la",
        "le",
        "les",
        "l",
        "d",
        "van",
        "het",
        "een",
        "op",
        "bij",
        "el",
        "los",
        "las",
        "en",
        "al",
        "da",
        "do",
        "dos",
        "das",
        "na",
        "no",
        "o",
        "os",
        "ao",
        "del",
        "della",
        "dello",
        "di",
        "il",
        "lo",
        "gli",
        "con",
        "av",
        "och",
        "i",
        "pa",
        "vid",
        "mot",
        "und",
        "et",
        "y",
        "e",
        "z",
        "ze",
        "w",
        "we",
        "pri",
        "przy",
        "u",
        "avg",
        "by",
        "for",
        "from",
        "data",
        "value",
        "measured",
        "mesure",
        "gemessen",
        "gemeten",
        "medido",
        "misurato",
        "matt",
        "zmierzony",
    ]
)
LETTERS = str.maketrans({"ł": "l", "Ł": "L", "ø": "o", "Ø": "O", "ß": "ss", "æ": "ae", "œ": "oe", "đ": "d", "ı": "i"})


@dataclass(frozen=True)
class Meaning:
    """One thing headers may mean, and the concepts by which it is recognised."""

    name: str
    all: frozenset[str]
    any: frozenset[str]
    none: frozenset[str]
    score: float


@dataclass(frozen=True)
class Vocabulary:
    """The words file, ready for use."""

    exact: dict[str, frozenset[str]]
    stems: dict[str, frozenset[str]]
    meanings: tuple[Meaning, ...]
    units: dict[str, str]
    sides: dict[str, tuple[str, ...]]


def bare(text: str) -> str:
    """Return a text without accents and case."""
    split = unicodedata.normalize("NFKD", text.translate(LETTERS)).casefold()
    return "".join(letter for letter in split if not unicodedata.combining(letter))


@cache
def vocabulary() -> Vocabulary:
    """Return the words file."""
    said = tomllib.loads(WORDS_FILE.read_text(encoding="utf-8"))
    exact: dict[str, set[str]] = {}
    stems: dict[str, set[str]] = {}
    for concept, words in said["words"].items():
        for word in words.split():
            (stems if word.endswith("*") else exact).setdefault(word.rstrip("*"), set()).add(concept)
    return Vocabulary(
        {word: frozenset(concepts) for word, concepts in exact.items()},
        {word: frozenset(concepts) for word, concepts in stems.items()},
        tuple(_meaning(entry) for entry in said["meaning"]),
        {bare(word): unit for unit, words in said["units"].items() for word in words.split()},
        _sides(said["sides"]),
    )


def _meaning(entry: dict[str, Any]) -> Meaning:
    sets = (frozenset(entry.get(key, ())) for key in ("all", "any", "none"))
    return Meaning(entry["is"], *sets, float(entry["score"]))


def _sides(said: dict[str, str]) -> dict[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {}
    for side, words in said.items():
        for word in words.split():
            found.setdefault(bare(word), []).append(side)
    return {word: tuple(sides) for word, sides in found.items()}


def tokens(header: str) -> list[str]:
    """Return a header's words: parted by camel case, underscores, digits and marks; without what stands in brackets."""
    text = re.sub(r"[\(\[\{].*?[\)\]\}]", " ", header)
    text = re.sub(r"(?i)take[ _-]off", "takeoff", text)
    text = re.sub(r"(?<=[a-zà-þ])(?=[A-ZÀ-Þ])", " ", text)
    return [word for word in re.split(r"[^a-z]+", bare(text)) if word]


@cache
def concepts(word: str) -> tuple[frozenset[str], ...]:
    """Return what a word may stand for: one set of readings a part; nothing where it is not known."""
    known = vocabulary()
    if word in known.exact:
        return (known.exact[word],)
    for stem, meant in known.stems.items():
        if word.startswith(stem):
            return (meant,)
    return _taken_apart(word)


def _taken_apart(word: str) -> tuple[frozenset[str], ...]:
    """Return the parts of a compound, where known words cover most of it."""
    known = vocabulary().exact
    best: list[tuple[int, int, tuple[str, ...]]] = [(0, 0, ())]
    for end in range(1, len(word) + 1):
        choice = best[end - 1]
        for start in range(max(0, end - 24), end - SHORTEST_PART + 1):
            part = word[start:end]
            if part in known:
                covered, few, parts = best[start]
                choice = max(choice, (covered + len(part), few - 1, (*parts, part)))
        best.append(choice)
    covered, _, parts = best[-1]
    if len(word) >= 2 * SHORTEST_PART and covered >= LEAST_COVERED * len(word):
        return tuple(known[part] for part in parts)
    # A long word whose beginning or end is known is half known: Drehzahlmesser, Impactx.
    return ()


def meanings(header: str) -> dict[str, float]:
    """Return how well a header means each thing (0 to 10); nothing where it says nothing that is known."""
    words = [word for word in tokens(header) if word not in vocabulary().units or word in vocabulary().exact]
    words = [word for word in words if word not in FILLERS or word in ("to", "as", "la", "d", "y")]
    if len(words) == 1 and len(words[0]) == 1:
        return {}
    parts = [part for word in words for part in concepts(word)]
    unknown = sum(not concepts(word) for word in words if len(word) > 1)
    there: frozenset[str] = frozenset().union(*parts) if parts else frozenset()
    found: dict[str, float] = {}
    for meaning in vocabulary().meanings:
        sure = frozenset().union(*(part for part in parts if len(part) == 1)) if parts else frozenset()
        if not meaning.all <= there or (meaning.any and not meaning.any & there):
            continue
        needed = meaning.all | meaning.any
        if meaning.none & (sure - needed) or any(part <= meaning.none for part in parts):
            continue
        unused = sum(not part & needed for part in parts)
        score = meaning.score - UNUSED_CONCEPT * unused - UNKNOWN_WORD * unknown
        if score > 0:
            found[meaning.name] = max(found.get(meaning.name, 0.0), score)
    return found


def unit_of(text: str) -> str | None:
    """Return the unit that a text as a whole names, brackets and dots aside."""
    said = bare(text.strip().strip("()[]{}.,:;").strip()).replace(" ", "").replace("²", "")
    return vocabulary().units.get(said)


def unit_in_header(header: str) -> tuple[str | None, str | None]:
    """Return (unit, the piece of the header that says it): in brackets, after a comma or slash, or as its last word."""
    for piece in re.findall(r"[\(\[\{]([^\)\]\}]*)[\)\]\}]", header):
        for part in (piece, *re.split(r"[,;|\s]+", piece)):
            if (unit := unit_of(part)) is not None and len(part) > 0:
                return unit, part
    bare_header = re.sub(r"[\(\[\{].*?[\)\]\}]", " ", header)
    pieces = re.split(r"[_,:\s]+|(?<=[a-z])(?=[A-Z])", bare_header.strip())
    for piece in reversed(pieces[1:]):
        unit = unit_of(piece)
        if unit is not None and piece.casefold() not in {"c", "f", "k", "s", "y", "st", "v"}:
            return unit, piece
        break
    last = pieces[-1] if len(pieces) > 1 else ""
    if "_" in bare_header and last in {"m", "s"}:
        return unit_of(last), last
    for piece in pieces[:1]:
        if piece.casefold() in {"mph", "kmh", "rpm"}:
            return unit_of(piece), piece
    return None, None


def side_in_header(header: str, sides: Iterable[str]) -> str | None:
    """Return which way a header says is plus: "(+ = left)", "left +", "links positiv", "R+", "Toe (mm)"."""
    wanted, known = set(sides), vocabulary().sides
    text = bare(header)
    plus = re.findall(r"\+\s*(?:=|is|:)?\s*([a-z]+)|([a-z]+)\s*(?:is|=|:)?\s*(?:\+|posit\w*|plus\b)", text)
    minus = re.findall(
        r"(?:^|[\s(,/])[-−]\s*(?:=|is|:)?\s*([a-z]+)"
        r"|([a-z]+)\s*(?:is|=|:)?\s*(?:[-−](?=[\s),/]|$)|negat\w*|minus\b)",
        text,
    )
    for words, turned in ((plus, False), (minus, True)):
        for pair in words:
            for side in (side for word in pair if word for side in known.get(word, ()) if side in wanted):
                return _other(side) if turned else side
    return None


OPPOSITE = {"right": "left", "up": "down", "toe": "heel", "high": "low"}


def _other(side: str) -> str:
    return {**OPPOSITE, **{minus: plus for plus, minus in OPPOSITE.items()}}[side]


def sides_of(word: str) -> tuple[str, ...]:
    """Return the sides that a word at a number may name: right, left, up, down, toe, heel, high, low."""
    return vocabulary().sides.get(bare(word.strip().strip(".")), ())
