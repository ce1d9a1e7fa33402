"""Clubs as people and devices write them, in several languages, as canonical clubs. Not here: a file's columns."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from warehouse.landing.learning.words import bare
from warehouse.schema.metrics import CLUBS

KINDS = {
    "driver": "driver drv dr drive d 1w w1 w01 langholz",
    "wood": "wood w wd fw fairway fairwayholz holz bois madera legno madeira hout tra trae puu drevo drewno m "
            "ho fwy fairwaywood metal metalwood l wd fairways fw.",
    "hybrid": "hybrid hyb hy h rescue utility hybride hibrido hibridos ibrido hybryda hybridi ut u y rescues mischling "
              "misto mixte kruising",
    "iron": "iron jern rauta i ir eisen fer hierro ferro ijzer jarn zelezo zelazo e fe hi j z irons hier ei ij jrn zel",
    "wedge": "wedge wdg keil wig cuna cunha cocheur kilen wedg wge c",
}  # fmt: skip
WEDGES = {
    "wedge-pitching": "pw pitching p pitch pitchingwedge pwedge wp pi anspielkeil court corto kort kurz short",
    "wedge-gap": "gw aw uw gap approach attack gapwedge gwedge awedge wg ecart g a approachwedge dw",
    "wedge-sand": "sw sand sandwedge swedge ws sable arena sabbia areia s zand piach pisek sandkeil zandwig",
    "wedge-lob": "lw lob lobwedge lwedge wl",
}
KIND_WORDS: tuple[dict[str, str], ...] = tuple(
    dict(zip(row.split(), ("wood", "iron", "hybrid"), strict=True))
    for row in (
        "Holz Eisen Hybrid", "Bois Fer Hybride", "Madera Hierro Híbrido", "Legno Ferro Ibrido", "Hout IJzer Hybride",
        "Madeira Ferro Híbrido", "Trä Järn Hybrid", "Træ Jern Hybrid", "Dřevo Železo Hybrid", "Drewno Żelazo Hybryda",
    )
)  # fmt: skip
"""What woods, irons and hybrids are called, a language a row: where one is met, the others will come."""
NUMBERS = (
    "one eins einer un une uno um een ett jeden jedna;two zwei zweier deux dos due dois twee tva dwa dva;"
    "three drei dreier trois tres tre drie trzy tri;four vier vierer quatre cuatro quattro quatro fyra cztery ctyri;"
    "five funf fuenf funfer cinq cinco cinque vijf fem piec pet;six sechs sechser seis sei zes sex szesc sest;"
    "seven sieben siebener sept siete sette sete zeven sju siedem sedm;"
    "eight acht achter huit ocho otto oito atta osiem osm;nine neun neuner neuf nueve nove negen nio dziewiec devet"
)
LOFTS = ((44, 49, "wedge-pitching"), (50, 53, "wedge-gap"), (54, 57, "wedge-sand"), (58, 64, "wedge-lob"))
"""Lofts of wedges stamped in degrees: common practice, no source."""
NO_CLUB_HERE = frozenset(["putter", "putt", "pt", "chipper", "putr", "patter"])


LETTERS = {"h": ("hybrid", "wood"), "f": ("wood", "iron")}
"""Single letters that stand for two kinds: hybrid or Holz and hout, fairway or fer and ferro."""


@dataclass(frozen=True)
class ClubReading:
    """What a club's name is taken for; `sure` is False where it is a good guess that is said, None: not known."""

    club: str | None
    why: str
    sure: bool = True


@cache
def _words() -> dict[str, tuple[str, str]]:
    """Return word -> (kind or wedge or number, its value)."""
    known = {word: ("kind", kind) for kind, words in KINDS.items() for word in words.split()}
    known |= {word: ("wedge", club) for club, words in WEDGES.items() for word in words.split() if word not in known}
    for number, words in enumerate(NUMBERS.split(";"), start=1):
        known |= {word: ("number", str(number)) for word in words.split()}
    return known


def club_of(text: str, letters: dict[str, tuple[str, ...]] | None = None) -> ClubReading:
    """Return the canonical club that a name means; `letters` as `letter_kinds` gives them."""
    said = bare(text).strip()
    if match := re.fullmatch(r"([hf])[ .-]?(\d{1,2})|(\d{1,2})[ .-]?([hf])", said):
        letter, number = match[1] or match[4], match[2] or match[3]
        kinds = (letters or {}).get(letter, LETTERS[letter])
        fits = [f"{kind}-{number}" for kind in kinds if f"{kind}-{number}" in CLUBS]
        if kinds == ("wood",) and number == "1":
            return ClubReading("driver", "its letter")
        if fits:
            return ClubReading(fits[0], f"its letter, which may mean {' or '.join(kinds)}", len(fits) == 1)
    if said in CLUBS:
        return ClubReading(said, "its name here")
    parts = re.findall(r"[^\W\d_]+|\d+", said.replace("°", " deg "))
    if not parts:
        return ClubReading(None, "no word in it")
    if any(part in NO_CLUB_HERE for part in parts):
        return ClubReading(None, "putts and chips are no full swings")
    known = _words()
    kinds, wedges, numbers, strange = [], [], [], []
    for part in parts:
        role, value = ("number", part) if part.isdigit() else known.get(part, ("", ""))
        if role == "" and part not in ("deg", "grad", "club", "nr", "no", "the", "de", "di", "da", "klubba", "hul"):
            split = _compound(part)
            if split is None:
                strange.append(part)
                continue
            for role, value in split:
                (kinds if role == "kind" else wedges if role == "wedge" else numbers).append(value)
            continue
        (kinds if role == "kind" else wedges if role == "wedge" else numbers if role == "number" else []).append(value)
    return _decided(kinds, wedges, numbers, strange, said)


def _compound(part: str) -> list[tuple[str, str]] | None:
    """Return the two known words of a compound such as sandwedge or fairwayholz, or a wedge's two letters."""
    known = _words()
    for cut in range(2, len(part) - 1):
        one, other = part[:cut], part[cut:]
        if one in known and other in known and len(one) >= 3 and len(other) >= 3:
            return [known[one], known[other]]
    return None


def _decided(  # noqa: PLR0911  one return a rule, in the order in which they count
    kinds: list[str], wedges: list[str], numbers: list[str], strange: list[str], said: str
) -> ClubReading:
    number = int(numbers[0]) if numbers else None
    if strange and not (kinds or wedges):
        return ClubReading(None, f"'{strange[0]}' is no word for a club that is known")
    sure = not strange
    if wedges and (not kinds or kinds == ["wedge"]) and (number is None or number >= 44):
        return ClubReading(wedges[0], "its words", sure)
    if number is not None and 44 <= number <= 64 and (not kinds or "wedge" in kinds or "deg" in said):
        for low, high, club in LOFTS:
            if low <= number <= high:
                return ClubReading(club, f"a loft of {number} degrees", sure=number not in (54,))
    kind = next((kind for kind in kinds if kind != "wedge"), None)
    if kind is None and "wedge" in kinds:
        return ClubReading(None, "which wedge is not said")
    if kind in ("driver", "wood") and number == 1:
        return ClubReading("driver", "its words", sure)
    if (kind == "driver" and number is None) or (kind == "driver" and number is not None and 7 <= number <= 13):
        return ClubReading("driver", "its words", sure)
    club = f"{kind}-{number}"
    if club in CLUBS:
        return ClubReading(club, "its words", sure and len(numbers) == 1)
    if kind and number is not None:
        return ClubReading(None, f"there is no {kind} {number} among the clubs")
    return ClubReading(None, "no number or kind in it" if kind or number is not None else "no word for a club")


def share_of_clubs(texts: Iterable[str]) -> float:
    """Return the share of distinct texts that are clubs' names."""
    names = {text for text in texts if text}
    if not names or len(names) > 60:
        return 0.0
    letters = [name for name in names if any(letter.isalpha() for letter in name)]
    return sum(club_of(name).club is not None for name in letters) / len(names)


def letter_kinds(names: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """Return, for letters of two meanings, the kinds that fit all of a file's names: one where the others decide.

    A number that a kind does not have rules it out, and a kind that has a word of its own in the file is not meant.
    """
    said = [bare(name).strip() for name in names]
    coded: dict[str, set[int]] = {}
    for name in said:
        if match := re.fullmatch(r"([a-z])[ .-]?(\d{1,2})|(\d{1,2})[ .-]?([a-z])", name):
            letter, number = match[1] or match[4], match[2] or match[3]
            coded.setdefault(letter, set()).add(int(number))
    plain = [club_of(name).club or "" for name in said if not re.fullmatch(r"[hf][ .-]?\d+|\d+[ .-]?[hf]", name)]
    others = {kind for kind in ("wood", "hybrid", "iron") if any(club.startswith(kind) for club in plain)}
    found = {}
    for letter, numbers in coded.items():
        if letter in LETTERS:
            valid = [
                kind
                for kind in LETTERS[letter]
                if all(f"{kind}-{n}" in CLUBS or (kind == "wood" and n == 1) for n in numbers)
            ]
            free = [kind for kind in valid if kind not in others]
            found[letter] = tuple(free or valid)
    return found
