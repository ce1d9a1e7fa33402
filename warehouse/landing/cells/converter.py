"""A converter of the academy's own, for what no profile can say: HOME/converters/NAME.py, read_rows(path).

It returns (or yields) one mapping a shot, file's column name to value; the profile does the rest. It lies in the home
and not in the landing folder, since what lands there is written by others. Not here: what a converter does.
"""

from __future__ import annotations

import runpy
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import polars as pl

from warehouse.landing.cells.outside import Origin, mapped, said_by_name
from warehouse.landing.cells.table import COLUMN, Rows
from warehouse.landing.cells.workbook import cell_text
from warehouse.landing.lines.byte_scan import RefusedError
from warehouse.landing.lines.header import plain
from warehouse.landing.profile.profile import Profile

FUNCTION, LINE = "read_rows", "line"


def source_of(profile: Profile, converters: Path | None) -> Path | None:
    """Return the file of a profile's converter; None where it has none."""
    return None if profile.file.converter is None or converters is None else converters / f"{profile.file.converter}.py"


def read_rows(path: Path, profile: Profile, origin: Origin, converters: Path | None) -> Rows:
    """Return what a converter makes of a file.

    Raises
    ------
    RefusedError
        There is no such converter, it fails, or it returns something else than mappings.
    """
    source = source_of(profile, converters)
    if source is None or not source.is_file():
        raise RefusedError(f"there is no converters/{profile.file.converter}.py in the home: put it there")
    try:
        convert = runpy.run_path(str(source)).get(FUNCTION)
        told = list(convert(path)) if callable(convert) else None
    except Exception as fault:
        raise RefusedError(f"converters/{source.name} failed on it ({type(fault).__name__}: {fault})") from None
    if told is None:
        raise RefusedError(f"converters/{source.name} has no function {FUNCTION}(path)")
    if not all(isinstance(row, Mapping) for row in told):
        raise RefusedError(f"converters/{source.name}: {FUNCTION} has to return one mapping a shot")
    rows = [{plain(str(name)): _text(value, profile) for name, value in row.items()} for row in told]
    names = dict.fromkeys(name for row in rows for name in row)
    columns = {COLUMN + name: [row.get(name) for row in rows] for name in names if name != LINE}
    columns |= {COLUMN + name: [mapped(said_by_name(field, origin, None), field.map)] * len(rows)
                for name, field in profile.fields.items()}  # fmt: skip
    frame = pl.DataFrame(columns, schema=dict.fromkeys(columns, pl.String))
    lines = [int(row[LINE]) if LINE in row else at for at, row in enumerate(rows, start=1)]  # type: ignore[arg-type]
    whole = ["\t".join(value or "" for name, value in row.items() if name != LINE) for row in rows]
    told_of = {"line": lines, "place": [None] * len(rows), "fault": [None] * len(rows), "whole": whole}
    schema = {"line": pl.Int64, "place": pl.String, "fault": pl.String, "whole": pl.String}
    both = pl.concat([pl.DataFrame(told_of, schema=schema), frame], how="horizontal")
    return Rows(both, tuple(name for name in names if name != LINE), 0)


def _text(value: Any, profile: Profile) -> str | None:
    return None if value is None else value if isinstance(value, str) else cell_text(value, profile.file.decimal)
