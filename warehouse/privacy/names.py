"""The names of students and coaches, found in any text: whatever the case, accents, width or order they stand in.

A name is found by its words, whole: all of them in any order, the first with what follows a middle name, or run
together. A name of one word that is also a word of this program (Driver, Mark) cannot be told from it and is not
looked for. Not here: what becomes of a text (masking.py, values.py).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from typing import Any

from warehouse.privacy.folding import UNBROKEN, WORD, Word, folded_words, other_readings, squeezed, words
from warehouse.schema.metrics import CLUBS, METRIC
from warehouse.schema.registry import TABLES

NAME = "(name)"
TITLES = frozenset(("dr", "prof", "mr", "mrs", "ms", "jr", "jun", "sr", "sen"))
GENERIC = frozenset(
    [
        *("guest", "gast", "visitor", "student", "member", "coach", "trainer", "walk", "unknown", "anonymous", "none"),
        *("test", "name", "withheld", "academy", "club", "holz", "eisen", "wood", "wedge", "iron", "hybrid", "putter"),
        *("driver", "ball", "shots", "landing", "csv", "true", "false", "null", "error"),
    ]
)
ESCAPES = re.compile(r"[%&'`\\]")
"""Signs that make a text say something else than its plain words."""
SHORTEST = 3
"""Letters of the shortest name of one word that is looked for (two in a script without blanks)."""


@cache
def vocabulary() -> frozenset[str]:
    """Return the words that the program itself uses of tables, columns, clubs and numbers."""
    own = set(GENERIC)
    for table in TABLES.values():
        for text in (table.name, table.row, *(column.name for column in table.columns)):
            own.update(folded_words(text))
        for column in table.columns:
            own.update(folded_words(column.description), *(folded_words(value) for value in column.values))
    for text in (*CLUBS, *METRIC):
        own.update(folded_words(text))
    return frozenset(own)


class KnownNames:
    """Names to look for in texts.

    Parameters
    ----------
    names
        As the academy wrote them. What has no two letters together is no name (an id in a name's place).
    """

    def __init__(self, names: Iterable[str]) -> None:
        self.said = frozenset(name.strip() for name in names if name and name.strip())
        self._forms: set[tuple[str, ...]] = set()
        self._joined: set[str] = set()
        self._unbroken: set[str] = set()
        self.parts: set[str] = set()
        for name in self.said:
            self._add(name)
        self._first = {word for form in self._forms for word in form}
        self._lengths = sorted({len(form) for form in self._forms}, reverse=True)

    def __bool__(self) -> bool:
        return bool(self._forms or self._joined or self._unbroken)

    def _add(self, name: str) -> None:
        parts = [word for word in folded_words(name) if word not in TITLES]
        if not parts:
            return
        if len(parts) == 1:
            self._add_single(name, parts[0])
            return
        if not any(len(part) > 1 for part in parts) and not UNBROKEN.search(name):
            return
        for at in range(1, len(parts)):
            form = (parts[0], *parts[at:])
            for own in (form, (form[0] + "s", *form[1:]), (*form[:-1], form[-1] + "s")):
                self._forms.add(tuple(sorted(own)))
        for joined in ("".join(parts), parts[-1] + "".join(parts[:-1]), parts[0] + parts[-1], parts[-1] + parts[0]):
            if len(joined) > SHORTEST:
                self._joined.add(joined)
        if UNBROKEN.search(name):
            self._unbroken.update(("".join(parts), "".join(reversed(parts))))
        self.parts.update(part for part in parts if self._telling(part))

    def _add_single(self, name: str, word: str) -> None:
        if any(letter.isdigit() for letter in name):
            return  # an id, or a number that stands for somebody
        if UNBROKEN.search(word):
            if len(word) > 1:
                self._unbroken.add(word)
        elif self._telling(word):
            self._forms.update(((word,), (word + "s",)))
            self.parts.add(word)

    @staticmethod
    def _telling(word: str) -> bool:
        return len(word) >= SHORTEST and word not in vocabulary()

    def spans(self, text: str) -> list[tuple[int, int]]:
        """Return where names stand in a text, from and to."""
        if not self or not text:
            return []
        found = words(text)
        if UNBROKEN.search(text):
            spans = [(word.start, word.end) for word in found if any(name in word.folded for name in self._unbroken)]
        else:
            spans = []
        at = 0
        while at < len(found):
            length = self._length_at(found, at)
            if length:
                spans.append((found[at].start, found[at + length - 1].end))
            at += length or 1
        return sorted(spans)

    def _length_at(self, found: list[Word], at: int) -> int:
        """Return how many words from a place on are a name; none: 0."""
        if found[at].folded in self._joined:
            return 1
        if found[at].folded not in self._first:
            return 0
        for length in self._lengths:
            window = found[at : at + length]
            if len(window) == length and tuple(sorted(word.folded for word in window)) in self._forms:
                return length
        return 0

    def holds(self, text: str | None) -> bool:
        """Return whether a name stands in a text, also once its escapes are read."""
        if not text or not self or self._cannot(text):
            return False
        return bool(self.spans(text)) or any(self.spans(other) for other in other_readings(text))

    def _cannot(self, text: str) -> bool:
        """Return whether a plain text has no word in common with any name: most texts, told without looking further."""
        return text.isascii() and not ESCAPES.search(text) and self._strange(text)

    def holds_in_long(self, text: str) -> bool:
        """Return the same of a long text, such as a part of a file, line by line; escapes are not read in it."""
        return any(self.spans(line) for line in text.splitlines() if not line.isascii() or not self._strange(line))

    def _strange(self, text: str) -> bool:
        """Return whether no word of a plain text is one of any name's."""
        said = {squeezed(word) for word in WORD.findall(text.lower())}
        return said.isdisjoint(self._first) and said.isdisjoint(self._joined)

    def holds_part(self, text: str | None) -> bool:
        """Return whether a text holds a name, or one word of a name: enough where a single cell is shown."""
        if not text or not self:
            return False
        return self.holds(text) or any(word in self.parts for word in folded_words(text))

    def mask(self, text: str, instead: str = NAME) -> str:
        """Return a text with every name in it replaced; all of it where only another reading of it holds one."""
        spans = self.spans(text)
        if not spans:
            return instead if self.holds(text) else text
        said, last = [], 0
        for start, end in spans:
            if start >= last:
                said += [text[last:start], instead]
            last = max(last, end)
        masked = "".join([*said, text[last:]])
        return instead if self.holds(masked) else masked

    def mask_parts(self, text: str, instead: str = NAME) -> str:
        """Return a text with every word of a name in it replaced, alone or not."""
        for word in reversed(words(text)):
            if word.folded in self.parts:
                text = text[: word.start] + instead + text[word.end :]
        return text

    def mask_all(self, value: Any) -> Any:
        """Return a value with names masked in every text of it, however deep."""
        if isinstance(value, str):
            return self.mask(value)
        if isinstance(value, dict):
            return {self.mask_all(key): self.mask_all(held) for key, held in value.items()}
        if isinstance(value, list | tuple):
            return [self.mask_all(held) for held in value]
        return value


NOBODY = KnownNames(())
QUOTED = re.compile(r"'([^'\n]{1,300})'")


def mask_quoted(names: KnownNames, text: str) -> str:
    """Return a message with names masked, and with what it quotes withheld where that holds a part of a name."""
    masked = names.mask(text)
    return QUOTED.sub(lambda found: f"'{NAME}'" if names.holds_part(found.group(1)) else found.group(), masked)
