"""The `[file]` part of a profile: format, and for text how its lines become fields and its times moments.

Not here: columns (column_source.py), rows that are no shots and what stands outside the table (layout.py).
"""

from __future__ import annotations

import codecs
import re
from functools import cache
from typing import Literal

import duckdb
from babel import Locale, UnknownLocaleError
from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from warehouse.landing.profile.layout import check_path, check_pattern
from warehouse.schema.declaration import quoted

PLAIN = "".join(chr(code) for code in (9, 10, 13, *range(32, 127)))
DETECT = "detect"
"""An encoding that is told from each file's bytes."""
LAYOUT_KEYS = ("thousands", "quoted", "header", "language", "sheets", "rows_at", "converter")
UNSOUND = ("utf-7", "unicode_escape", "raw_unicode_escape")
"""Encodings that can decode to halves of characters, which nothing can store."""
LINE_MARKS = "\r\n\x00\x01\x1c\x1d\x1e\x1f"
"""Characters that no delimiter may hold: ends of lines, and those that a cleaned copy uses itself."""
TABLES = ("csv", "parquet", "jsonl")
"""Formats that the database reads by itself."""
EPOCHS = ("epoch", "epoch_ms")


@cache
def time_zones() -> frozenset[str]:
    """Return the IANA zones that the database knows (the machine's own list may be missing)."""
    with duckdb.connect() as con:
        return frozenset(row[0] for row in con.execute("select name from pg_timezone_names()").fetchall())


class FileShape(BaseModel):
    """The `[file]` part: format, and for text how its lines become fields."""

    model_config = ConfigDict(extra="forbid", strict=True)

    format: Literal["csv", "parquet", "jsonl", "json", "workbook", "converter"] = "csv"
    delimiter: str = Field(default=",", min_length=1, max_length=4)
    decimal: Literal[".", ","] = "."
    thousands: Literal["", ".", ",", "'", " "] = ""
    quoted: bool = False
    encoding: str = "utf-8"
    skip_rows: int = Field(default=0, ge=0, le=1000)
    header: Literal["at skip_rows", "find"] = "at skip_rows"
    nulls: list[str] = [""]
    timestamp_format: str | list[str] | None = None
    timezone: str = "site"
    language: str | None = None
    left_handers: Literal["as seen", "turned round"] = "as seen"
    sheets: str | None = None
    rows_at: str | None = None
    converter: str | None = None

    @field_validator("encoding")
    @classmethod
    def _known_encoding(cls, value: str) -> str:
        usual = "utf-8, utf-16, latin-1 and cp1252 are usual"
        if value == DETECT:
            return value
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
    def _known_format(cls, value: str | list[str] | None) -> str | list[str] | None:
        with duckdb.connect() as con:
            for said in [value] if isinstance(value, str) else value or []:
                try:
                    if said not in EPOCHS:
                        con.execute(f"select try_strptime('', {quoted(said)})")
                except duckdb.Error as fault:
                    raise ValueError(f"'{said}' is no strptime format ({str(fault).splitlines()[0]})") from None
        return value

    @field_validator("timezone")
    @classmethod
    def _known_zone(cls, value: str) -> str:
        if value != "site" and value not in time_zones():
            raise ValueError(f"'{value}' is neither \"site\" nor an IANA time zone such as Europe/Lisbon")
        return value

    @field_validator("language")
    @classmethod
    def _known_language(cls, value: str | None) -> str | None:
        if value is not None:
            try:
                Locale.parse(value, sep="-" if "-" in value else "_")
            except (UnknownLocaleError, ValueError):
                raise ValueError(f"'{value}' is no known language; write a code such as de, fr or pt_BR") from None
        return value

    @field_validator("sheets")
    @classmethod
    def _known_sheets(cls, value: str | None) -> str | None:
        return value if value is None else check_pattern(value)

    @field_validator("rows_at")
    @classmethod
    def _known_path(cls, value: str | None) -> str | None:
        return value if value is None else check_path(value)

    @field_validator("converter")
    @classmethod
    def _plain_name(cls, value: str | None) -> str | None:
        if value is not None and not re.fullmatch(r"[A-Za-z_][A-Za-z0-9_]*", value):
            raise ValueError(f"'{value}' is no converter's name: letters, digits and _ only, without .py")
        return value

    @property
    def formats(self) -> tuple[str | None, ...]:
        """Return the ways in which a time may be written, in the order they are tried; None: ISO 8601."""
        said = self.timestamp_format
        return tuple(said) if isinstance(said, list) and said else (said if isinstance(said, str) else None,)

    @model_validator(mode="after")
    def _parts_fit(self) -> FileShape:
        if self.thousands == self.decimal:
            raise ValueError("thousands: is the same as decimal")
        if (self.format == "converter") != (self.converter is not None):
            raise ValueError('converter: goes with format = "converter", and that with it')
        if self.rows_at is not None and self.format not in ("json", "jsonl"):
            raise ValueError("rows_at: is for json and jsonl")
        if self.rows_at is None and self.format == "json":
            raise ValueError('rows_at: is missing: where the shots stand, such as "sessions[].shots[]"')
        if self.sheets is not None and self.format != "workbook":
            raise ValueError("sheets: is for workbooks")
        return self

    @model_validator(mode="after")
    def _delimiter_fits(self) -> FileShape:
        if any(mark in self.delimiter for mark in LINE_MARKS + '"'):
            raise ValueError("delimiter: may not hold a quote, an end of line or a control character")
        if self.format == "csv" and self.delimiter == self.decimal and not self.quoted:
            raise ValueError("decimal: is the same as the delimiter")
        return self
