"""Which way is plus, column by column: known, settled with another column's, or asked once for all that go together.

Not here: columns and units (number_entries.py).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from warehouse.landing.learning import search
from warehouse.landing.learning.columns import Columns, side_pair
from warehouse.landing.learning.entries import LIKELY_FROM, Question
from warehouse.landing.learning.readings import SIDED, Evidence, Reading
from warehouse.landing.learning.search import Margin
from warehouse.landing.profile import units as profile_units
from warehouse.schema.metrics import EXPORTED_BY_NAME


@dataclass(frozen=True)
class Found:
    """The best reading with its margins, and what a person said before."""

    columns: Columns
    evidence: Evidence
    reading: Reading
    margins: Mapping[tuple[str, str], Margin]
    kept: Mapping[str, Mapping[str, Any]]

    def margin(self, name: str, aspect: str) -> float:
        """Return one margin; far where nothing else is possible."""
        found = self.margins.get((name, aspect))
        return found.nats if found else 99.0

    def header(self, name: str) -> str:
        """Return the header of a metric's column."""
        return self.columns.table.header[self.reading[name].place]


def sign_questions(found: Found, names: Sequence[str]) -> dict[str, Question | str]:
    """Return metric -> its question, or why its sign is known; right and left are asked once for a group."""
    result: dict[str, Question | str] = {}
    references: list[str] = []
    for name in (*SIDED, "attack_angle", "impact_toe", "impact_high"):
        if name not in names or name not in found.reading:
            continue
        choice = found.reading[name]
        column = found.evidence.columns[choice.place]
        if column.side is not None or side_pair(found.columns.numbers[choice.place]) is not None:
            continue
        nats = found.margin(name, "sign")
        if nats >= LIKELY_FROM:
            result[name] = "its side by those that are known" if name in SIDED else "plus by the numbers and the header"
            continue
        plus, minus = profile_units.SIGNS[profile_units.PLUS[name]]
        label = EXPORTED_BY_NAME[name].label
        reference = _goes_with(found, name, references)
        if reference is not None:
            same = choice.sign == found.reading[reference].sign
            text = f"counts {'as' if same else 'the other way round than'} '{found.header(reference)}' does"
            result[name] = Question(f"columns.{name}.positive", text, (plus, minus), f"columns.{reference}.positive")
            continue
        values = column.values[np.isfinite(column.values)]
        shown = f"{values[np.argmax(np.abs(values))]:g}" if values.size else ""
        text = (
            f"which way is plus in '{column.header}' ({label}): {plus} or {minus}? Both fit equally well. Look at a "
            f"shot you remember, such as the one with {shown}"
        )
        result[name] = Question(f"columns.{name}.positive", text, (plus, minus))
        references += [name] if name in SIDED else []
    return result


def _goes_with(found: Found, name: str, references: Sequence[str]) -> str | None:
    """Return the metric that is asked already and whose side settles this one's; None where none does."""
    if name not in SIDED:
        return None
    nats = {one: search.turned_against(found.evidence, found.reading, name, one) for one in references}
    best = max(nats, key=lambda one: nats[one], default=None)
    return best if best is not None and nats[best] >= LIKELY_FROM else None
