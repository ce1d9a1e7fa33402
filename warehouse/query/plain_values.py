"""Values of any type as values that every table, file and spreadsheet has: nested ones as JSON, bytes as hexadecimal.

Infinity and NaN, which JSON has not, are the words "inf", "-inf" and "nan" there. Not here: what a reader may ask
(guard.py), nor what is taken for a formula.
"""

from __future__ import annotations

import json
import math
from typing import Any

import polars as pl


def flat(column: pl.Series) -> pl.Series:
    """Return a column without nesting, bytes or categories."""
    if column.dtype.is_nested():
        lines = [None if value is None else json.dumps(value, ensure_ascii=False) for value in json_values(column)]
        return pl.Series(column.name, lines, dtype=pl.String)
    if column.dtype == pl.Binary:
        return column.bin.encode("hex")
    if column.dtype in (pl.Categorical, pl.Enum):
        return column.cast(pl.String)
    return column


def shown(frame: pl.DataFrame) -> pl.DataFrame:
    """Return a frame that a page can show as a table: whole numbers past 64 bits and times of day as text."""
    flattened = pl.DataFrame([flat(column) for column in frame.iter_columns()])
    return flattened.with_columns(pl.col(pl.Int128, pl.Time).cast(pl.String))


def as_json(frame: pl.DataFrame) -> bytes:
    """Return the frame as a JSON list of rows; times as ISO 8601 text, Int128 as text."""
    safe = [
        column.bin.encode("hex") if column.dtype == pl.Binary else column
        for column in frame.with_columns(pl.col(pl.Int128).cast(pl.String)).iter_columns()
    ]
    written = pl.DataFrame(safe).write_json()
    strange = [column.name for column in safe if holds_no_number(column)]
    if not strange:
        return written.encode()
    rows = json.loads(written)
    for name in strange:
        for row, value in zip(rows, json_values(frame[name]), strict=True):
            row[name] = value
    return json.dumps(rows, ensure_ascii=False, separators=(",", ":")).encode()


def json_values(column: pl.Series) -> list[Any]:
    """Return the values of a column as JSON has them."""
    lines = pl.DataFrame({"value": column}).write_ndjson().splitlines()
    written = [json.loads(line)["value"] for line in lines]
    if not holds_no_number(column):
        return written
    return [worded(value, kept) for value, kept in zip(written, column.to_list(), strict=True)]


def holds_no_number(column: pl.Series) -> bool:
    """Return whether a column may hold infinity or NaN, nested or not."""
    if column.dtype.is_float():
        return not column.is_finite().all()
    if isinstance(column.dtype, pl.List | pl.Array):
        return holds_no_number(column.explode())
    if isinstance(column.dtype, pl.Struct):
        return any(holds_no_number(column.struct.field(field.name)) for field in column.dtype.fields)
    return False


def worded(written: Any, kept: Any) -> Any:
    """Return what was written with words where no number could be."""
    if isinstance(kept, float) and not math.isfinite(kept):
        return str(kept)
    if isinstance(kept, list) and isinstance(written, list):
        return [worded(one, other) for one, other in zip(written, kept, strict=True)]
    if isinstance(kept, dict) and isinstance(written, dict):
        return {key: worded(written.get(key), value) for key, value in kept.items()}
    return written
