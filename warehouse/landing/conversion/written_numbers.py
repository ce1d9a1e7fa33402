"""Numbers as people and devices write them, in SQL: thousands marks, units and side words in the cell, feet and inches.

Only for files that were read cell by cell. What does not fit to the last letter is no number: nothing is guessed.
Not here: plain numbers, scaling to canonical units, limits (convert_sql.py).
"""

from __future__ import annotations

import re
from fractions import Fraction

from warehouse.landing.profile.column_source import ColumnSource
from warehouse.landing.profile.file_shape import FileShape
from warehouse.landing.profile.units import PLUS, SPELLINGS, UNITS, units_for
from warehouse.schema.declaration import quoted
from warehouse.schema.metrics import EXPORTED_BY_NAME

ALIKE = ("\u2212\u2013\u00a0\u202f\u2009\u2019\u2032\u2033\u201d", "--   ''\"\"")
"""Minus signs, blanks and primes that are written for others, and those."""
FEET, INCHES = r"(?:feet|foot|ft\.?|')", r"(?:inches|inch|in\.?|\"|'')"
INCHES_PER_FOOT = 12


def number(said: str, name: str, source: ColumnSource, shape: FileShape) -> str:
    """Return SQL for a metric's number in the profile's unit and sign; null where the text is none.

    Parameters
    ----------
    said
        SQL for the text, without blanks around.
    name, source
        The metric and its entry in the profile.
    shape
        The profile's decimal and thousands marks.
    """
    text = f"translate({said}, {quoted(ALIKE[0])}, {quoted(ALIKE[1])})"
    figure = _figure(shape)
    if source.written == "feet and inches":
        inches = f"(?:-|\\s)*({figure})\\s*{INCHES}?"
        both = _Pattern(text, source, shape, f"({figure})\\s*{FEET}(?:{inches})?|({figure})\\s+({figure})", 4)
        alone = _Pattern(text, source, shape, f"({figure})\\s*{INCHES}", 1)
        bare = _Pattern(text, source, shape, f"({figure})", 1)
        feet, more = f"coalesce({both.value(1)}, {both.value(3)})", f"coalesce({both.value(2)}, {both.value(4)}, 0)"
        inch = Fraction(254, 10000) * Fraction(UNITS[source.unit or "ft"].over, UNITS[source.unit or "ft"].times)
        return (
            f"coalesce({both.signed(name, f'({feet} * {INCHES_PER_FOOT} + {more}) * {_sql(inch)}')}, "
            f"{alone.signed(name, f'{alone.value(1)} * {_sql(inch)}')}, {bare.signed(name, bare.value(1))})"
        )
    if source.written == "with unit":
        spelled = _spelled(name, source)
        word = "|".join(re.escape(unit) for unit in sorted(spelled, key=len, reverse=True))
        plain = _Pattern(text, source, shape, f"({figure})\\s*({word})?", 2)
        return plain.signed(name, _in_unit(plain, spelled, source.unit or ""))
    plain = _Pattern(text, source, shape, f"({figure})", 1)
    return plain.signed(name, plain.value(1))


def _figure(shape: FileShape) -> str:
    """Return the pattern of a number without sign, by the profile's marks."""
    whole = "[0-9]+"
    if shape.thousands:
        mark = re.escape(shape.thousands)
        whole = f"(?:[0-9]{{1,3}}(?:{mark}[0-9]{{3}})+|[0-9]+)"
    point = re.escape(shape.decimal)
    return f"(?:{whole}(?:{point}[0-9]*)?|{point}[0-9]+)(?:[eE][+-]?[0-9]+)?"


def _sql(factor: Fraction) -> str:
    return f"{factor.numerator} / {factor.denominator}"


def _spelled(name: str, source: ColumnSource) -> dict[str, str]:
    """Return every spelling that a cell of this column may give its unit, in small letters, and that unit."""
    told = {word: unit for unit in units_for(EXPORTED_BY_NAME[name]) for word in SPELLINGS[unit]}
    return {word.lower(): unit for word, unit in (told | source.unit_words).items()}


def _in_unit(plain: _Pattern, spelled: dict[str, str], unit: str) -> str:
    """Return SQL for a number whose cell may name another unit than the profile, in the profile's."""
    value, cases = plain.value(1), ""
    for word, other in spelled.items():
        if other != unit:
            one, base = UNITS[other], UNITS[unit]
            top, bottom = one.times * base.over, one.over * base.times
            plus = one.plus * base.over - base.plus * one.over
            cases += f"when {quoted(word)} then ({value} * {top} + {plus}) / {bottom} "
    return f"case lower({plain.group(2)}) {cases}else {value} end" if cases else value


class _Pattern:
    """A text matched whole: a side word before or behind, a sign, and in between a body with groups of its own."""

    def __init__(self, text: str, source: ColumnSource, shape: FileShape, body: str, groups: int) -> None:
        self.text, self.source, self.shape, self.groups = text, source, shape, groups
        words = "|".join(re.escape(word.strip()) for word in sorted(source.sides, key=len, reverse=True))
        before, behind = (f"(?:({words})\\s*)?", f"(?:\\s*({words}))?") if words else ("", "")
        self.first = 1 if words else 0
        self.pattern = f"^{before}([+-]?)\\s*(?:{body}){behind}$"

    def _raw(self, place: int) -> str:
        return f"regexp_extract({self.text}, {quoted(self.pattern)}, {place}, 'i')"

    def group(self, nth: int) -> str:
        """Return SQL for the body's nth group; empty where the text does not match."""
        return self._raw(self.first + 1 + nth)

    def value(self, nth: int) -> str:
        """Return SQL for the body's nth group as a number without sign."""
        digits = self.group(nth)
        if self.shape.thousands:
            digits = f"replace({digits}, {quoted(self.shape.thousands)}, '')"
        if self.shape.decimal != ".":
            digits = f"replace({digits}, {quoted(self.shape.decimal)}, '.')"
        return f"try_cast({digits} as double)"

    def signed(self, name: str, value: str) -> str:
        """Return SQL for a value with the sign that the text gives it, by its side word or its own."""
        sign = self._raw(self.first + 1)
        own = f"case when {sign} = '-' then -({value}) else {value} end"
        if not self.source.sides:
            return own
        word = f"lower({self._raw(1)} || {self._raw(self.first + self.groups + 2)})"
        plus = self.source.positive or PLUS[name]
        sides = {word.strip().lower(): side for word, side in self.source.sides.items()}
        cases = " ".join(
            f"when {quoted(spelling)} then case when {sign} <> '-' then {'' if side == plus else '-'}({value}) end"
            for spelling, side in sides.items()
        )
        return f"case {word} when '' then {own} {cases} end"
