"""Whom a name in an export means: the academy's own list of students, asked by name in either order or by id.

A name that is nobody's, or two people's, becomes a sign of its own, so that its shots are kept for nobody without the
name being kept. Not here: students who are listed twice (duplicate people at onboarding).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from hashlib import sha256

from warehouse.landing.onboarding.duplicate_people import normal_name

UNKNOWN = "unknown-"
"""How the sign of a name begins that students.csv does not tell."""


@dataclass(frozen=True)
class Students:
    """Students by id and by normalised name; names that two students share are in neither."""

    ids: frozenset[str] = frozenset()
    by_name: tuple[tuple[str, str], ...] = ()
    names: frozenset[str] = frozenset()

    @classmethod
    def listed(cls, rows: Iterable[tuple[str, str]]) -> Students:
        """Return them from (id, name) pairs."""
        told = [(student_id, normal_name(name)) for student_id, name in rows]
        times = Counter(name for _, name in told)
        once = sorted((name, student_id) for student_id, name in told if name and times[name] == 1)
        return cls(frozenset(student_id for student_id, _ in told), tuple(once), frozenset(times) - {""})

    @cached_property
    def _by_name(self) -> dict[str, str]:
        return dict(self.by_name)

    @cached_property
    def _parts(self) -> dict[str, list[frozenset[str]]]:
        parts = [frozenset(name.split()) for name in self.names]
        return {first: [one for one in parts if min(one) == first] for first in {min(one) for one in parts}}

    def named_in(self, text: str) -> bool:
        """Return whether a text, such as a file's name, holds all parts of a student's name, in whatever order."""
        words = set(normal_name(text).split())
        return any(one <= words for word in words for one in self._parts.get(word, ()))

    @property
    def fingerprint(self) -> str:
        """Return a hash that changes when a name may mean somebody else."""
        return sha256(repr((sorted(self.ids), self.by_name)).encode()).hexdigest()[:16]

    def find(self, said: str, lookup: str) -> str:
        """Return the id that a text means ("name", "either": id first), or the sign of a text that means nobody."""
        if lookup == "id" or (lookup == "either" and said in self.ids):
            return said
        return self._by_name.get(normal_name(said)) or UNKNOWN + sha256(normal_name(said).encode()).hexdigest()[:8]


def is_unknown(student_id: str) -> bool:
    """Return whether an id is the sign of a name that students.csv does not tell."""
    return student_id.startswith(UNKNOWN)
