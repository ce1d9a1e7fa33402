"""A profile tried on real exports before it is trusted: the same look and conversion as at night, nothing kept.

Not here: how the result is shown (the caller renders it).
"""

from __future__ import annotations

import datetime as dt
import tempfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import duckdb
import polars as pl

from warehouse.landing.cells.columns import BAY
from warehouse.landing.cells.read import Context
from warehouse.landing.conversion.convert_sql import Reading
from warehouse.landing.exports import bulk_load
from warehouse.landing.exports.bulk_load import NO_ROWS, Counts
from warehouse.landing.exports.discover import ExportFile, night_of
from warehouse.landing.exports.file_names import split_name
from warehouse.landing.exports.inspect import Inspected, RefusedError, inspect
from warehouse.landing.lines.header import plain
from warehouse.landing.profile import profile
from warehouse.schema.metrics import EXPORTED_BY_NAME
from warehouse.settings.settings import Limits

FIRST_ROWS, FIRST_REJECTED = 5, 50


@dataclass(frozen=True)
class MappedColumn:
    """One column of the profile in one file: canonical name and unit, what the profile says, there or not."""

    name: str
    unit: str
    source: str
    source_unit: str
    positive: str
    found: bool


@dataclass
class FileTrial:
    """What one file would come to.

    Attributes
    ----------
    path
        The file.
    refused
        Why it would be refused whole; None if it would be read.
    columns, unused
        The profile's columns, and headers no column takes.
    rows
        Rows read, loaded, rejected and duplicate.
    first_rows
        The first rows as they would load, canonical names to values.
    rejected
        The first rejected rows: line, column_name, value, reason, detail.
    warnings
        In words.
    loaded, faults
        All rows that would load, and all that would not with column_name, value and reason.
    players, bays
        What the rows say of who hit and in which bay, as it is written, with counts.
    """

    path: Path
    refused: str | None = None
    columns: list[MappedColumn] = field(default_factory=list)
    unused: list[str] = field(default_factory=list)
    rows: Counts = NO_ROWS
    first_rows: list[dict[str, Any]] = field(default_factory=list)
    rejected: list[dict[str, Any]] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    loaded: pl.DataFrame | None = None
    faults: pl.DataFrame | None = None
    players: Counter[str] = field(default_factory=Counter)
    bays: Counter[str] = field(default_factory=Counter)


@dataclass
class Trial:
    """What a profile does with files; `fault` says why it cannot be used at all."""

    profile: Path
    fault: str | None = None
    files: list[FileTrial] = field(default_factory=list)

    @property
    def fit(self) -> bool:
        """Return whether the profile can be used and every file loads at least one row."""
        return self.fault is None and all(file.refused is None and file.rows.loaded > 0 for file in self.files)


def check_exports(
    profile_path: Path, files: Sequence[Path], *, timezone: str = "UTC", limits: Limits | None = None,
    context: Context | None = None, night: dt.date | None = None,
) -> Trial:  # fmt: skip
    """Try a profile on files.

    Parameters
    ----------
    profile_path
        The profile.
    files
        Exports; where a file's folder is named by a date, rows outside that night are rejected as at night.
    timezone
        The site's IANA zone, for profiles that say timezone = "site".
    limits
        What an export may ask of the machine.
    context
        The students in whose list names are looked up, and converters; without it nobody is known.
    night
        Hold all rows to this night; without it, to the date of the file's folder if it is named by one.
    """
    trial = Trial(profile_path)
    try:
        tried = profile.read(profile_path)
    except profile.ProfileError as fault:
        trial.fault = str(fault)
        return trial
    with duckdb.connect() as con, tempfile.TemporaryDirectory(prefix="trial-") as scratch:
        con.execute("set timezone = 'UTC'")
        given = context or Context(limits or Limits())
        for path in files:
            trial.files.append(_try(con, tried, profile_path, path, timezone, given, Path(scratch), night))
    return trial


def _try(
    con: duckdb.DuckDBPyConnection,
    tried: profile.Profile,
    profile_path: Path,
    path: Path,
    timezone: str,
    context: Context,
    scratch: Path,
    held_to: dt.date | None,
) -> FileTrial:
    done, shown = FileTrial(path), f"{profile_path.parent.name}/{profile_path.name}"
    bay_id, suffix = split_name(path.name)
    try:
        night = held_to or night_of(path.absolute().parent.name)
        file = ExportFile(str(path), night, bay_id, suffix, path.stat().st_size, path.stat().st_mtime_ns)  # type: ignore[arg-type]
        inspected = inspect(con, path, file, tried, context.limits, scratch, shown, context)
    except RefusedError as fault:
        done.refused = str(fault)
        return done
    except OSError as fault:
        done.refused = f"cannot be read ({fault.strerror})"
        return done
    done.warnings = inspected.warnings
    reading = Reading(tried, shown, inspected.header, inspected.delimiter, inspected.types, timezone, inspected.cells)
    _compare_columns(done, tried, inspected.header.names)
    try:
        (done.rows,) = bulk_load.convert(con, reading, [inspected])
    except (duckdb.Error, bulk_load.ReadError) as fault:
        done.refused = f"cannot be read ({str(fault).splitlines()[0]})"
        return done
    done.first_rows = _dicts(
        con.execute(
            "select * exclude (file_id, rid, duplicate, code) from temp.landing_row where code = 0 and not duplicate "
            f"order by rid limit {FIRST_ROWS}"
        )
    )
    rejected = bulk_load.rejected(con, reading)
    faults = con.execute(f"select line, column_name, value, reason, detail from ({rejected}) order by line").pl()
    done.rejected = faults.head(FIRST_REJECTED).rows(named=True)
    done.faults = faults
    done.loaded = con.execute(
        "select * exclude (rid, code) from temp.landing_row where code = 0 and not duplicate"
    ).pl()
    _note_names(done, tried, inspected)
    return done


def _note_names(done: FileTrial, tried: profile.Profile, inspected: Inspected) -> None:
    """Count players and bays as the file writes them."""
    if inspected.cells:
        cells = pl.read_parquet(inspected.read_from)
        for name, counts in (("student_id", done.players), (BAY, done.bays)):
            if name in cells.columns:
                counts.update(cells[name].drop_nulls().to_list())
    elif "student_id" in tried.columns and done.loaded is not None:
        done.players.update(done.loaded["student_id"].drop_nulls().to_list())


def _compare_columns(done: FileTrial, tried: profile.Profile, names: Sequence[str]) -> None:
    there = [plain(name) for name in names]
    for name, source in tried.columns.items():
        unit = EXPORTED_BY_NAME[name].unit if name in EXPORTED_BY_NAME else ""
        done.columns.append(
            MappedColumn(
                name, unit, source.source, source.unit or "", source.positive or "", plain(source.source) in there
            )
        )
    taken = {plain(source.source) for source in tried.columns.values()}
    done.unused = [name for name in names if plain(name) not in taken]


def _dicts(result: duckdb.DuckDBPyConnection) -> list[dict[str, Any]]:
    names = [column[0] for column in result.description or []]
    return [dict(zip(names, row, strict=True)) for row in result.fetchall()]
