"""An export profile: how one kind of file is read. TOML in, a checked model out, faults naming file and key.

Not here: reading the exports themselves (preflight.py, bulk_read.py).
"""

from __future__ import annotations

import codecs
import tomllib
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any, Literal

import duckdb
from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator

from warehouse.landing.units import scale, units_for, words_for
from warehouse.schema.declaration import quoted
from warehouse.schema.metrics import CLUBS, EXPORTED, EXPORTED_BY_NAME

REQUIRED = ("struck_at", "club", *(number.name for number in EXPORTED if number.required))
TEXT_COLUMNS = ("struck_at", "student_id", "club")
SHOT_COLUMNS = (*TEXT_COLUMNS, *(number.name for number in EXPORTED))
PLAIN = "".join(chr(code) for code in (9, 10, 13, *range(32, 127)))
UNSOUND = ("utf-7", "unicode_escape", "raw_unicode_escape")
"""Encodings that can decode to halves of characters, which nothing can store."""
LINE_MARKS = "\r\n\x00\x01\x1c\x1d\x1e\x1f"
"""Characters that no delimiter may hold: ends of lines, and those that a cleaned copy uses itself."""


class ProfileError(ValueError):
    """A profile that cannot be used; the message names the file, the key and what would do."""


@cache
def time_zones() -> frozenset[str]:
    """Return the IANA zones that the database knows (the machine's own list may be missing)."""
    with duckdb.connect() as con:
        return frozenset(row[0] for row in con.execute("select name from pg_timezone_names()").fetchall())


class FileShape(BaseModel):
    """The `[file]` part: format, and for text how its lines become fields."""

    model_config = ConfigDict(extra="forbid", strict=True)

    format: Literal["csv", "parquet", "jsonl"] = "csv"
    delimiter: str = Field(default=",", min_length=1, max_length=4)
    decimal: Literal[".", ","] = "."
    encoding: str = "utf-8"
    skip_rows: int = Field(default=0, ge=0, le=1000)
    nulls: list[str] = [""]
    timestamp_format: str | None = None
    timezone: str = "site"

    @field_validator("encoding")
    @classmethod
    def _known_encoding(cls, value: str) -> str:
        usual = "utf-8, utf-16, latin-1 and cp1252 are usual"
        try:
            name = codecs.lookup(value).name
            plain = PLAIN.encode(name)
        except (LookupError, ValueError):
            raise ValueError(f"'{value}' is no known encoding; {usual}") from None
        # Lines are split before they are decoded, so ends of lines and delimiters must stand for themselves.
        if plain != PLAIN.encode() and not name.startswith(("utf-16", "utf-32")) and name != "utf-8-sig":
            raise ValueError(f"'{value}' is no encoding in which tables can be read; {usual}")
        if name in UNSOUND:
            raise ValueError(f"'{value}' is no encoding in which tables can be read; {usual}")
        return name

    @field_validator("timestamp_format")
    @classmethod
    def _known_format(cls, value: str | None) -> str | None:
        if value is None:
            return None
        with duckdb.connect() as con:
            try:
                con.execute(f"select try_strptime('', {quoted(value)})")
            except duckdb.Error as fault:
                raise ValueError(f"'{value}' is no strptime format ({str(fault).splitlines()[0]})") from None
        return value

    @field_validator("timezone")
    @classmethod
    def _known_zone(cls, value: str) -> str:
        if value != "site" and value not in time_zones():
            raise ValueError(f"'{value}' is neither \"site\" nor an IANA time zone such as Europe/Lisbon")
        return value

    @model_validator(mode="after")
    def _delimiter_fits(self) -> FileShape:
        if any(mark in self.delimiter for mark in LINE_MARKS + '"'):
            raise ValueError("delimiter: may not hold a quote, an end of line or a control character")
        if self.format == "csv" and self.delimiter == self.decimal:
            raise ValueError("decimal: is the same as the delimiter")
        return self


class ColumnSource(BaseModel):
    """One entry of `[columns]`: where a canonical column comes from and in what unit and sign."""

    model_config = ConfigDict(extra="forbid", strict=True, populate_by_name=True)

    source: str = Field(alias="from", min_length=1)
    unit: str | None = None
    positive: str | None = None
    optional: bool = False
    map: dict[str, str] | None = None


class Profile(BaseModel):
    """A whole profile; `columns` maps canonical names to their sources, in canonical order."""

    model_config = ConfigDict(extra="forbid", strict=True)

    name: str = ""
    file: FileShape = FileShape()
    columns: dict[str, ColumnSource]

    @field_validator("columns")
    @classmethod
    def _columns_fit(cls, columns: dict[str, ColumnSource]) -> dict[str, ColumnSource]:
        faults = [fault for name, source in columns.items() for fault in _column_faults(name, source)]
        faults += [f"columns.{name}: is required and not mapped" for name in REQUIRED if name not in columns]
        if faults:
            raise ValueError("; ".join(faults))
        return {name: columns[name] for name in SHOT_COLUMNS if name in columns}

    @property
    def fingerprint(self) -> str:
        """Return a hash that changes with anything that changes how files are read."""
        return sha256(self.model_dump_json(exclude={"name"}).encode()).hexdigest()[:16]


def _column_faults(name: str, source: ColumnSource) -> list[str]:
    """Return what is wrong with one column's entry."""
    if name not in SHOT_COLUMNS:
        return [f"columns.{name}: is no shot column; those are {', '.join(SHOT_COLUMNS)}"]
    if name in TEXT_COLUMNS:
        faults = [f"columns.{name}.{key}: has no meaning here" for key in ("unit", "positive") if getattr(source, key)]
        if name == "club":
            unknown = sorted({club for club in (source.map or {}).values() if club not in CLUBS})
            faults += [f"columns.club.map: '{club}' is not one of {', '.join(CLUBS)}" for club in unknown]
        if name == "struck_at" and source.map:
            faults.append("columns.struck_at.map: has no meaning here")
    else:
        faults = _number_faults(name, source)
    if source.optional and name in REQUIRED:
        faults.append(f"columns.{name}.optional: a shot needs {name}, so it cannot be optional")
    return faults


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
    if source.map:
        faults.append(f"columns.{name}.map: has no meaning here")
    return faults


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
        return Profile.model_validate(tomllib.loads(path.read_bytes().decode("utf-8-sig")))
    except FileNotFoundError:
        raise ProfileError(f"there is no {shown}: put the profile there or correct bays.csv") from None
    except UnicodeDecodeError as fault:
        raise ProfileError(f"{shown}: is not UTF-8 ({fault.reason} at byte {fault.start})") from None
    except OSError as fault:
        raise ProfileError(f"{shown}: cannot be read ({fault.strerror})") from None
    except RecursionError:
        raise ProfileError(f"{shown}: is not TOML: brackets without end") from None
    except tomllib.TOMLDecodeError as fault:
        raise ProfileError(f"{shown}: is not TOML: {fault}") from None
    except ValidationError as fault:
        raise ProfileError(f"{shown}: " + "; ".join(_in_words(error) for error in fault.errors())) from None


def _in_words(error: Any) -> str:
    key = ".".join(str(part) for part in error["loc"])
    message = error["msg"].removeprefix("Value error, ")
    if error["type"] == "extra_forbidden":
        return f"{key}: is no known key"
    return message if message.startswith(f"{key}.") or not key else f"{key}: {message}"
