"""An export profile: how one kind of file is read. TOML in, a checked model out, faults naming file and key.

A profile that says nothing beyond the plain shape of a table is read straight by the database; any other has a
layout (`Profile.has_layout`) and goes through warehouse/landing/cells. Not here: reading the exports themselves.
"""

from __future__ import annotations

import tomllib
from hashlib import sha256
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError, field_validator, model_validator

from warehouse.landing.profile.column_source import REQUIRED, SHOT_COLUMNS, ColumnSource, column_faults
from warehouse.landing.profile.file_shape import DETECT, EPOCHS, TABLES, FileShape, time_zones
from warehouse.landing.profile.layout import Inbox, OutsideField, RowRules
from warehouse.landing.profile.open_questions import without_open
from warehouse.landing.profile.units import scale
from warehouse.schema.metrics import EXPORTED_BY_NAME

__all__ = [
    "REQUIRED", "SHOT_COLUMNS", "ColumnSource", "FileShape", "Profile", "ProfileError", "read", "scale_of", "time_zones"
]  # fmt: skip

LAYOUT_KEYS = ("thousands", "quoted", "header", "language", "sheets", "rows_at", "converter")
"""Keys of `[file]` by which a file has to be read cell by cell."""


class ProfileError(ValueError):
    """A profile that cannot be used; the message names the file, the key and what would do."""


class Profile(BaseModel):
    """A whole profile; `columns` maps canonical names to their sources, in canonical order."""

    model_config = ConfigDict(extra="forbid", strict=True)

    name: str = ""
    file: FileShape = FileShape()
    rows: RowRules = RowRules()
    fields: dict[str, OutsideField] = {}
    columns: dict[str, ColumnSource]
    inbox: Inbox = Inbox()

    @field_validator("columns")
    @classmethod
    def _columns_fit(cls, columns: dict[str, ColumnSource]) -> dict[str, ColumnSource]:
        faults = [fault for name, source in columns.items() for fault in column_faults(name, source)]
        faults += [f"columns.{name}: is required and not mapped" for name in REQUIRED if name not in columns]
        if faults:
            raise ValueError("; ".join(faults))
        return {name: columns[name] for name in SHOT_COLUMNS if name in columns and columns[name].sources}

    @model_validator(mode="after")
    def _parts_know_each_other(self) -> Profile:
        unknown = [name for name in self.rows.summary_without if name not in self.columns]
        if unknown:
            raise ValueError(f"rows.summary_without: '{unknown[0]}' is no column of this profile")
        flat = [name for name, field in self.fields.items() if field.path and self.file.format not in ("json", "jsonl")]
        if flat:
            raise ValueError(f"fields.{flat[0]}.path: is for json and jsonl")
        return self

    @property
    def needed(self) -> tuple[str, ...]:
        """Return the columns without which a row is no shot; a make may have no launch angle."""
        return tuple(name for name in REQUIRED if name in self.columns and not self.columns[name].optional)

    @property
    def fields_of_shots(self) -> frozenset[str]:
        """Return the fields that shots come from; others only say a file's bay and night."""
        sources = {source for column in self.columns.values() for source in (*column.sources, column.zone)}
        return frozenset(name for name in self.fields if name in sources)

    @property
    def has_layout(self) -> bool:
        """Return whether its files are read cell by cell first (warehouse/landing/cells), not by the database alone."""
        shape, usual = self.file, FileShape.model_fields
        laid_out = any(getattr(shape, name) != usual[name].default for name in LAYOUT_KEYS)
        laid_out = laid_out or shape.format not in TABLES or isinstance(shape.timestamp_format, list)
        laid_out = laid_out or shape.timestamp_format in EPOCHS or shape.encoding == DETECT
        parts = bool(self.fields) or self.rows != RowRules()
        return laid_out or parts or not all(source.plain for source in self.columns.values())

    @property
    def fingerprint(self) -> str:
        """Return a hash that changes with anything that changes how files are read."""
        return sha256(self.model_dump_json(exclude={"name"}).encode()).hexdigest()[:16]


def scale_of(name: str, source: ColumnSource) -> tuple[int, int, int]:
    """Return (times, over, plus) that take a number's file value to its canonical value."""
    return scale(name, source.unit or EXPORTED_BY_NAME[name].unit, source.positive)


def read(path: Path) -> Profile:
    """Return a checked profile.

    Raises
    ------
    ProfileError
        Naming file and key, in words.
    """
    shown = f"{path.parent.name}/{path.name}"
    try:
        said = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except FileNotFoundError:
        raise ProfileError(f"there is no {shown}: put the profile there or correct bays.csv") from None
    except UnicodeDecodeError as fault:
        raise ProfileError(f"{shown}: is not UTF-8 ({fault.reason} at byte {fault.start})") from None
    except OSError as fault:
        raise ProfileError(f"{shown}: cannot be read ({fault.strerror})") from None
    except RecursionError:
        raise ProfileError(f"{shown}: is not TOML: brackets without end") from None
    except ValueError as fault:  # no TOML, or a number of thousands of digits
        raise ProfileError(f"{shown}: is not TOML: {fault}") from None
    try:
        return Profile.model_validate(without_open(said)[0])
    except ValidationError as fault:
        raise ProfileError(f"{shown}: " + "; ".join(_in_words(error) for error in fault.errors())) from None
    except ValueError as fault:
        raise ProfileError(f"{shown}: {fault}") from None


def _in_words(error: Any) -> str:
    key = ".".join(str(part) for part in error["loc"])
    message = error["msg"].removeprefix("Value error, ")
    if error["type"] == "extra_forbidden":
        return f"{key}: is no known key"
    return message if message.startswith(f"{key}.") or not key else f"{key}: {message}"
