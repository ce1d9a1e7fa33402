"""What one cell may be: a number with its marks, unit and side, a time, a word for nothing.

Not here: what a column of them means (columns.py, readings.py).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from warehouse.landing.learning import words

NOTHING = frozenset(
    {
        "",
        "-",
        "--",
        "---",
        "----",
        "n/a",
        "na",
        "nan",
        "null",
        "none",
        "n.a.",
        "n.b.",
        "k.a.",
        "nd",
        "n.d.",
        "-/-",
        "–",
        "—",
        "?",
        "x",
        "inf",
        "#n/a",
        "#nv",
        ".",
        "..",
        "*",
        "/",
        "undefined",
    }
)
SENTINELS = (-999.0, -9999.0, -99999.0, -99.0, 999.0, 9999.0, 99999.0, -1000.0, -1.0e6, 65535.0, 32767.0, -32768.0)
BLANKS = "\u00a0\u2009\u202f\u2007"
NUMBER = re.compile(
    r"^(?P<before>[^\d+\-−.,]*?)\s*(?P<core>[+\-−]?\s?(?:\d[\d.,'’ ]*|[.,]\d+)(?:[eE][+-]?\d+)?)\s*(?P<after>[^\d]*)$"
)
FEET = re.compile(
    r"^(?P<before>[A-Za-z]*)\s*(?P<sign>[+\-−]?)\s*(?P<feet>\d+)\s*(?:'|′|ft\.?|feet)\s*(?:(?P<inches>\d{1,2}(?:[.,]\d+)?)\s*(?:\"|″|''|in\.?|inch(?:es)?)?)?\s*(?P<after>[A-Za-z]*)$"
)
DOTTED_DATE = re.compile(r"\d{1,4}\.\s?\d{1,2}\.\s?\d{1,4}(?!\d)")
CLOCK = re.compile(r"\d{1,2}[:.h]\d{2}")
DATE = re.compile(r"\d{1,4}[-./ ]\s?(?:\d{1,2}|[^\W\d]{3,9}\.?)[-./ ,]\s?\d{1,4}")


@dataclass(frozen=True)
class Number:
    """A cell as a number: digits with marks as they stand, and the words before and after."""

    core: str
    before: str
    after: str


def tidy(text: str) -> str:
    """Return a cell with plain blanks and minus."""
    for blank in BLANKS:
        text = text.replace(blank, " ")
    return text.replace("−", "-").strip()


def as_number(text: str) -> Number | None:
    """Return a cell's number; None where it is none (a time, a date, words)."""
    text = tidy(text)
    if not any(letter.isdigit() for letter in text) or len(text) > 40:
        return None
    found = NUMBER.match(text)
    if found is None or len(found["after"]) > 12 or len(found["before"]) > 12:
        return None
    core = found["core"].strip().rstrip(".,'’ ") or found["core"].strip()
    return Number(core.replace(" ", " "), found["before"].strip(), found["after"].strip())


def is_nothing(text: str) -> bool:
    """Return whether a cell says that there is no value."""
    return tidy(text).casefold() in NOTHING


def looks_like_value(text: str) -> bool:
    """Return whether a cell is a bare number or a time: what rows of a table consist of."""
    text = tidy(text)
    number = as_number(text)
    if number is not None and len(number.before) <= 3 and len(number.core) <= 14:
        return number.core.count(",") + number.core.count(".") <= 3
    return bool(CLOCK.search(text) or DATE.search(text)) and len(text) < 40


@dataclass(frozen=True)
class Marks:
    """How numbers are written; `sure` is False where nothing tells a decimal comma from a thousands comma."""

    decimal: str
    thousands: str
    why: str
    sure: bool = True


def number_marks(cells: Iterable[str]) -> Marks:
    """Return the decimal and thousands marks in which cells are written."""
    decimal: Counter[str] = Counter()
    grouped: Counter[str] = Counter()
    unclear: Counter[str] = Counter()
    examples: dict[str, str] = {}
    for cell in cells:
        number = as_number(cell)
        if number is None or FEET.match(tidy(cell)) or (CLOCK.search(cell) and ":" in cell) or DOTTED_DATE.match(cell):
            continue
        body = re.sub(r"[eE][+-]?\d+$", "", number.core.lstrip("+- "))
        marks = [letter for letter in body if not letter.isdigit()]
        if not marks:
            continue
        last = marks[-1]
        tail = body.rsplit(last, 1)[1]
        head = body.rsplit(last, 1)[0]
        for mark in set(marks[:-1]):
            grouped[mark] += 1
            examples.setdefault("group" + mark, cell)
        if last in "' ’" or marks.count(last) > 1:
            grouped[last] += 1
            examples.setdefault("group" + last, cell)
        elif len(tail) != 3 or not head or head.startswith("0") or (len(head) > 3 and len(marks) == 1):
            decimal[last] += 1
            examples.setdefault(last, cell)
        else:
            unclear[last] += 1
            examples.setdefault("unclear" + last, cell)
    points, commas = decimal["."], decimal[","]
    if not points and not commas:
        if unclear and not grouped:
            mark = unclear.most_common(1)[0][0]
            return Marks("." if mark == "," else ",", mark, f"'{examples['unclear' + mark]}' alone", sure=False)
        points = 1
    mark = "." if points >= commas else ","
    other = "," if mark == "." else "."
    why = f"'{examples[mark]}'" if mark in examples else "whole numbers only"
    groups = [sign for sign in (*grouped, *unclear) if sign != mark and sign in (other, "'", "’", " ")]
    if other in decimal and decimal[other] > 0.1 * decimal[mark]:
        return Marks(mark, "", f"both '{examples[mark]}' and '{examples[other]}' stand in it", sure=False)
    return Marks(mark, groups[0] if groups else "", why)


def value_of(core: str, marks: Marks) -> float:
    """Return a number's value; nan where its marks are not the file's."""
    body = core.replace(" ", "").replace("'", "").replace("’", "") if marks.thousands in ("'", "’", " ") else core
    if marks.thousands:
        body = body.replace(marks.thousands, "")
    if marks.decimal == ",":
        if "." in body:
            return float("nan")
        body = body.replace(",", ".")
    try:
        return float(body.replace(" ", ""))
    except ValueError:
        return float("nan")


@dataclass
class NumberColumn:
    """A column read as numbers: values in the file's unit, and the words that stand at them.

    `unit_words` and `side_words` hold the words as they stand, with counts; values carry no side's sign yet
    (`side_of` gives each row's word). `nothing` are texts that mean missing; `sentinels` numbers that do.
    """

    values: NDArray[np.float64]
    unit_words: Counter[str]
    side_words: Counter[str]
    side_of: list[str]
    nothing: Counter[str]
    sentinels: tuple[float, ...]
    feet_and_inches: bool
    share: float


def number_column(texts: Sequence[str], marks: Marks) -> NumberColumn:
    """Return a column's cells as numbers."""
    values, sides = np.full(len(texts), np.nan), [""] * len(texts)
    units: Counter[str] = Counter()
    side_words: Counter[str] = Counter()
    nothing: Counter[str] = Counter()
    filled = good = feet = 0
    for at, text in enumerate(texts):
        if not text:
            continue
        if is_nothing(text):
            nothing[text] += 1
            continue
        filled += 1
        long = FEET.match(tidy(text)) if ("'" in text or "ft" in text or "′" in text) else None
        if long:
            inches = float((long["inches"] or "0").replace(",", "."))
            values[at] = (float(long["feet"]) + inches / 12) * (
                -1 if long["sign"] in ("-", "−") and long["sign"] else 1
            )
            feet, good = feet + 1, good + 1
            word = long["before"] or long["after"]
            if words.sides_of(word):
                sides[at] = word
                side_words[word] += 1
            continue
        number = as_number(text)
        if number is None:
            nothing[text] += 1
            continue
        values[at] = value_of(number.core, marks)
        good += bool(np.isfinite(values[at]))
        for word in (number.before, *number.after.split()):
            if (
                word
                and words.unit_of(word)
                and not (words.sides_of(word) and word.casefold() in ("r", "l", "h", "t", "u", "d"))
            ):
                units[word] += 1
            elif word and words.sides_of(word):
                side_words[word] += 1
                sides[at] = word
    counts = Counter(values[np.isfinite(values)].tolist())
    plain = values[np.isfinite(values) & ~np.isin(values, SENTINELS)]
    found = tuple(
        mark
        for mark in SENTINELS
        if counts.get(mark) and plain.size and not plain.min() - 50 <= mark <= plain.max() + 50
    )
    values[np.isin(values, found)] = np.nan
    return NumberColumn(
        values, units, side_words, sides, nothing, found, feet > 0.3 * max(good, 1), good / max(filled, 1)
    )
