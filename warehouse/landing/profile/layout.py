"""What a profile says of a file's layout: which lines are shots, what stands outside the table, and the inbox.

Not here: columns, units and signs (profile.py), nor the reading itself (warehouse/landing/cells).
"""

from __future__ import annotations

import re

import polars as pl
from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

CELL = re.compile(r"^([A-Za-z]{1,3})([1-9][0-9]{0,6})$")
PATH = re.compile(r"^(\[[0-9]*\]|[^.\[\]]+)(\[[0-9]*\])*(\.[^.\[\]]+(\[[0-9]*\])*)*$")
END_AT_BLANK = "blank"


def check_pattern(pattern: str) -> str:
    """Return a regular expression that the reader can use, of at most one group that counts.

    Raises
    ------
    ValueError
        Saying what is wrong with it.
    """
    try:
        pl.Series([""]).str.contains(pattern)
    except pl.exceptions.PolarsError as fault:
        said = str(fault).strip().splitlines()[-1]
        raise ValueError(f"'{pattern}' is no regular expression ({said})") from None
    return pattern


def first_group(pattern: str) -> int:
    """Return which group of a pattern is its value: the first, or 0 (the whole match) where it has none."""
    struct = pl.Series([""]).str.extract_groups(pattern).dtype
    return 1 if isinstance(struct, pl.Struct) and struct.fields else 0


def check_path(path: str) -> str:
    """Return a path into nested JSON, such as sessions[].shots[] or ball.speed, that can be followed.

    Raises
    ------
    ValueError
        Saying how one is written.
    """
    if path != "." and not PATH.match(path.removeprefix("$.").removeprefix("$")):
        raise ValueError(f"'{path}' is no path: write names with dots, [] for a list gone through, [2] for its third")
    return path


class RowRules(BaseModel):
    """The `[rows]` part: which lines under the header are no shots."""

    model_config = ConfigDict(extra="forbid", strict=True)

    units_rows: int = Field(default=0, ge=0, le=5)
    footer_rows: int = Field(default=0, ge=0, le=1000)
    end_at: str | None = None
    repeated_header: bool = True
    only_where: dict[str, str] = {}
    except_where: dict[str, str] = {}
    summary_without: list[str] = []

    @field_validator("end_at")
    @classmethod
    def _known_end(cls, value: str | None) -> str | None:
        return value if value in (None, END_AT_BLANK) else check_pattern(value)

    @field_validator("only_where", "except_where")
    @classmethod
    def _known_patterns(cls, value: dict[str, str]) -> dict[str, str]:
        for pattern in value.values():
            check_pattern(pattern)
        return value


class OutsideField(BaseModel):
    """One entry of `[fields]`: something said once, outside the table; exactly one key says where."""

    model_config = ConfigDict(extra="forbid", strict=True)

    label: str | None = Field(default=None, min_length=1)
    pattern: str | None = None
    cell: str | None = None
    file_name: str | None = None
    sheet: str | None = None
    folder: str | None = None
    path: str | None = Field(default=None, min_length=1)
    value: str | None = None
    map: dict[str, str] | None = None
    optional: bool = False

    @property
    def kind(self) -> str:
        """Return which key says where it stands."""
        return next(name for name in PLACES if getattr(self, name) is not None)

    @field_validator("pattern", "file_name", "sheet", "folder")
    @classmethod
    def _known_pattern(cls, value: str | None) -> str | None:
        return value if value is None else check_pattern(value)

    @field_validator("cell")
    @classmethod
    def _known_cell(cls, value: str | None) -> str | None:
        if value is not None and not CELL.match(value):
            raise ValueError(f"'{value}' is no cell: write column letters and line, such as B3")
        return value

    @model_validator(mode="after")
    def _one_place(self) -> OutsideField:
        given = [name for name in PLACES if getattr(self, name) is not None]
        if len(given) != 1:
            raise ValueError(f"says {' and '.join(given) or 'nowhere'}: name exactly one of {', '.join(PLACES)}")
        return self


PLACES = ("label", "pattern", "cell", "file_name", "sheet", "folder", "path", "value")
"""The keys by which a field says where it stands."""
ON_LINES = ("label", "pattern", "cell")
"""Those that stand on a line of the file itself."""


class InboxPlace(BaseModel):
    """Where a file in the inbox says its rows' bay or night."""

    model_config = ConfigDict(extra="forbid", strict=True, populate_by_name=True)

    source: str = Field(alias="from", min_length=1)
    map: dict[str, str] | None = None


class NightPlace(BaseModel):
    """Where a file in the inbox says its rows' night, and how the date is written."""

    model_config = ConfigDict(extra="forbid", strict=True, populate_by_name=True)

    source: str = Field(alias="from", min_length=1)
    format: str = "%Y-%m-%d"


class Inbox(BaseModel):
    """The `[inbox]` part. Without a bay: the only bay of the profile; without a night: each shot's own local date."""

    model_config = ConfigDict(extra="forbid", strict=True)

    bay: InboxPlace | None = None
    night: NightPlace | None = None
