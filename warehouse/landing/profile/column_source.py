"""One entry of a profile's `[columns]`: where a canonical column comes from, how it is written, its unit and sign.

Not here: how the text becomes a number (convert_sql.py).
"""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from warehouse.landing.profile.units import UNITS, units_for, words_for
from warehouse.schema.metrics import CLUBS, EXPORTED, EXPORTED_BY_NAME, MEASURED

REQUIRED = ("struck_at", "club", *(number.name for number in EXPORTED if number.required))
TEXT_COLUMNS = ("struck_at", "student_id", "club")
SHOT_COLUMNS = (*TEXT_COLUMNS, *(number.name for number in EXPORTED))
CLUB_WORDS = ("driver", "wood", "hybrid", "iron", "wedge")
"""What a word inside a club's name may be translated to."""
MAY_LACK = tuple(metric.name for metric in MEASURED if metric.may_lack)
"""Required, but a profile may say that its make has none."""
KEYS = {"struck_at": {"zone"}, "student_id": {"map", "lookup"}, "club": {"map", "spelling"}}
KEYS_OF_NUMBERS = {"unit", "positive", "written", "unit_words", "sides"}
"""What an entry may say beside `from` and `optional`."""


class ColumnSource(BaseModel):
    """One entry of `[columns]`: where a canonical column comes from and in what unit and sign."""

    model_config = ConfigDict(extra="forbid", strict=True, populate_by_name=True)

    said: str | list[str] | None = Field(default=None, alias="from", min_length=1)
    unit: str | None = None
    positive: str | None = None
    optional: bool = False
    map: dict[str, str] | None = None
    zone: str | None = Field(default=None, min_length=1)
    written: Literal["number", "with unit", "feet and inches"] = "number"
    unit_words: dict[str, str] = {}
    sides: dict[str, str] = {}
    spelling: Literal["exact", "any"] = "exact"
    lookup: Literal["id", "name", "either"] = "id"

    @property
    def sources(self) -> tuple[str, ...]:
        """Return the columns and fields it comes from, joined by a blank where they are several."""
        return (self.said,) if isinstance(self.said, str) else tuple(self.said or ())

    @property
    def source(self) -> str:
        """Return where it comes from, as messages tell it."""
        return " + ".join(self.sources)

    @property
    def plain(self) -> bool:
        """Return whether it says nothing that needs a layout."""
        told = self.model_fields_set - {"said", "unit", "positive", "optional", "map"}
        return isinstance(self.said, str) and not any(
            getattr(self, name) != type(self).model_fields[name].default for name in told
        )


def column_faults(name: str, source: ColumnSource) -> list[str]:
    """Return what is wrong with one column's entry, in words that name its key."""
    if name not in SHOT_COLUMNS:
        return [f"columns.{name}: is no shot column; those are {', '.join(SHOT_COLUMNS)}"]
    if not source.sources and not (name in MAY_LACK and source.optional):
        return [f"columns.{name}.from: is missing: which column it comes from"]
    if source.optional and name in REQUIRED and name not in MAY_LACK:
        return [f"columns.{name}.optional: a shot needs {name}, so it cannot be optional"]
    given = source.model_fields_set - {"said", "optional"}
    fits = KEYS.get(name, KEYS_OF_NUMBERS)
    faults = [f"columns.{name}.{key}: has no meaning here" for key in sorted(given - fits)]
    if name == "club":
        return faults + _club_faults(source)
    return faults if name in TEXT_COLUMNS or not source.sources else faults + _number_faults(name, source)


def _club_faults(source: ColumnSource) -> list[str]:
    words = CLUB_WORDS if source.spelling == "any" else ()
    unknown = sorted({club for club in (source.map or {}).values() if club not in CLUBS and club not in words})
    return [f"columns.club.map: '{club}' is not one of {', '.join((*CLUBS, *words))}" for club in unknown]


def _number_faults(name: str, source: ColumnSource) -> list[str]:
    number, faults = EXPORTED_BY_NAME[name], []
    if source.unit is None:
        faults.append(f"columns.{name}.unit: is missing; one of {', '.join(units_for(number))}")
    elif source.unit not in units_for(number):
        faults.append(f"columns.{name}.unit: '{source.unit}' is not one of {', '.join(units_for(number))}")
    words = words_for(number)
    if source.positive is not None and source.positive not in words:
        fits = f"is not one of {', '.join(words)}" if words else "does not fit: it has no sides"
        faults.append(f"columns.{name}.positive: '{source.positive}' {fits}")
    for word, side in source.sides.items():
        if side not in words:
            fits = f"is not one of {', '.join(words)}" if words else "does not fit: it has no sides"
            faults.append(f"columns.{name}.sides: '{side}' {fits}")
        if not word.strip() or any(letter.isdigit() or letter in "+-.," for letter in word):
            faults.append(f"columns.{name}.sides: '{word}' is no word that can stand beside a number")
    strange = sorted({unit for unit in source.unit_words.values() if unit not in units_for(number)})
    faults += [f"columns.{name}.unit_words: '{unit}' is not one of {', '.join(units_for(number))}" for unit in strange]
    if source.written == "feet and inches" and UNITS[number.unit].kind != "length":
        faults.append(f"columns.{name}.written: feet and inches are lengths, and {name} is none")
    return faults
