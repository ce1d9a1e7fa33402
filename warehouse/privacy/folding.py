"""Outside text as words that can be compared: without case, accents, width, signs that nobody sees, or spelled umlauts.

Words are runs of letters; digits and signs part them. Not here: whose names they are (names.py).
"""

from __future__ import annotations

import html
import re
import unicodedata
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from urllib.parse import unquote

LETTERS = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i", "ħ": "h", "æ": "ae", "œ": "oe"})
"""Letters that no decomposition takes apart, as they are written without them."""
SPELLED = (("ae", "a"), ("oe", "o"), ("ue", "u"), ("aa", "a"))
"""Umlauts and rings spelled out, as old devices write them: both spellings compare alike."""
APOSTROPHES = "'’ʼ`´‘"
GENITIVE = re.compile(rf"[{APOSTROPHES}](?=[sS](?!\w))")
WORD = re.compile(r"[^\W\d_]+")
UNBROKEN = re.compile(r"[\u2e80-\u9fff\uac00-\ud7af\uf900-\ufaff]")
"""Scripts that put no blank between words."""
MOJIBAKE = re.compile(r"[ÃÅÄÂ][\x80-\xff\u0152-\u0178\u2013-\u20ac]")


@dataclass(frozen=True)
class Word:
    """A word of a text as it compares, and where it stands in the text as it was."""

    folded: str
    start: int
    end: int


@lru_cache(maxsize=4096)
def _letter(letter: str) -> str:
    """Return a character as it compares: lower-case base letters, a blank for what parts words, or nothing."""
    if letter in APOSTROPHES:
        return ""
    found = []
    for part in unicodedata.normalize("NFKD", letter).casefold().translate(LETTERS):
        kind = unicodedata.category(part)
        if kind[0] == "L":
            found.append(part)
        elif kind not in ("Mn", "Me", "Cf", "Lm"):
            found.append(" ")
    return "".join(found)


def squeezed(word: str) -> str:
    """Return a folded word with umlauts that were spelled out as if they had not been."""
    for spelled, letter in SPELLED:
        word = word.replace(spelled, letter)
    return word


def words(text: str) -> list[Word]:
    """Return a text's words in their order."""
    text = GENITIVE.sub(" ", text)
    if text.isascii() and "'" not in text and "`" not in text:
        return [Word(squeezed(found.group().lower()), *found.span()) for found in WORD.finditer(text)]
    folded, places = [], []
    for place, letter in enumerate(text):
        for part in _letter(letter):
            folded.append(part)
            places.append(place)
    whole = "".join(folded)
    return [
        Word(squeezed(found.group()), places[found.start()], places[found.end() - 1] + 1)
        for found in WORD.finditer(whole)
    ]


def folded_words(text: str) -> list[str]:
    """Return a text's words as they compare."""
    return [word.folded for word in words(text)]


def other_readings(text: str) -> Iterator[str]:
    """Yield what a text says once read as an address, as HTML, as escaped, or in the encoding it was written in."""
    if "%" in text:
        yield unquote(text)
    if "&" in text and ";" in text:
        yield html.unescape(text)
    if "\\u" in text or "\\x" in text:
        with suppress(ValueError):
            yield text.encode("latin-1", "backslashreplace").decode("unicode_escape")
    if MOJIBAKE.search(text):
        for encoding in ("cp1252", "latin-1"):
            with suppress(UnicodeError):
                yield text.encode(encoding).decode("utf-8")
