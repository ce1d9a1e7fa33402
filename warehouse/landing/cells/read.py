"""Any file by its profile, cell by cell: one row of text a shot, with where it stands in the file.

What follows is the same for every format (convert_sql.py). Not here: files that the database reads by itself.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from hashlib import md5
from pathlib import Path

import polars as pl

from warehouse.landing.cells import converter, json_rows, table, text_grid, workbook
from warehouse.landing.cells.columns import canonical
from warehouse.landing.cells.outside import Origin, mapped, said_by_name
from warehouse.landing.cells.people import Students
from warehouse.landing.cells.table import COLUMN, NoTableError, Rows, UnsaidFieldError
from warehouse.landing.cells.workbook_size import check_workbook
from warehouse.landing.lines.byte_scan import RefusedError, check_columns
from warehouse.landing.lines.header import plain
from warehouse.landing.profile.profile import Profile
from warehouse.settings.settings import Limits

BESIDE = ("line", "place", "fault", "whole", "digest")
"""Columns of a table read cell by cell that are none of the profile's."""


@dataclass(frozen=True)
class Context:
    """What reading a file may need beside it: its limits, the students, and where converters lie."""

    limits: Limits = field(default_factory=Limits)
    students: Students = field(default_factory=Students)
    converters: Path | None = None


@dataclass(frozen=True)
class CellTable:
    """A file's shots as text.

    Attributes
    ----------
    frame
        line, place, fault, whole, digest (of all that the row says) and the columns of `columns.canonical`.
    names
        The file's own columns, as met.
    passed_over
        Lines under a header that the profile's rules call no shots.
    warnings
        Columns that are mapped, absent, and may be.
    """

    frame: pl.DataFrame
    names: tuple[str, ...]
    passed_over: int
    warnings: list[str]


def read_cells(path: Path, packed: bool, profile: Profile, origin: Origin, context: Context, shown: str) -> CellTable:
    """Return a file's shots as text.

    Parameters
    ----------
    path, packed
        The file, and whether it is packed by gzip.
    profile, shown
        How it is read, and the profile's name for messages.
    origin
        What its place says.
    context
        Limits, students, converters.

    Raises
    ------
    RefusedError
        It cannot be read, holds no table, or says nowhere what the profile says it does.
    """
    try:
        parts = _parts(path, packed, profile, origin, context)
    except NoTableError as fault:
        raise RefusedError(_in_words(fault, profile, shown)) from None
    rows = pl.concat([part.frame for part in parts], how="diagonal")
    names = tuple(dict.fromkeys(name for part in parts for name in part.names))
    check_columns(len(names), context.limits)
    _check_names(names, profile, shown)
    frame = canonical(rows, profile, context.students)
    # What a row said as a whole is told only where nothing of it can be read: it may hold names.
    told = pl.when(pl.col("fault").is_not_null()).then("whole").alias("whole")
    frame = frame.with_columns(told, digest=_digests(rows))
    return CellTable(frame, names, sum(part.passed_over for part in parts), _absent(names, profile, shown))


def _parts(path: Path, packed: bool, profile: Profile, origin: Origin, context: Context) -> list[Rows]:
    kind = profile.file.format
    if kind == "workbook":
        check_workbook(path, context.limits)
        return _sheets(path, profile, origin, context.students)
    if kind == "csv":
        grid = text_grid.read_grid(path, packed, profile, table.wanted_names(profile), context.limits)
        return [table.read_rows(grid, profile, origin)]
    if kind == "converter":
        return [converter.read_rows(path, profile, origin, context.converters)]
    fields = {name: mapped(said_by_name(field, origin, None), field.map) for name, field in profile.fields.items()
              if not field.path}  # fmt: skip
    if kind == "parquet":
        return [_parquet(path, fields)]
    lines = text_grid.read_text(text_grid.read_bytes(path, packed), profile.file.encoding, context.limits)
    return [json_rows.read_json(lines if kind == "jsonl" else ["\n".join(lines)], profile, fields)]


def _sheets(path: Path, profile: Profile, origin: Origin, students: Students) -> list[Rows]:
    """Return the tables of a workbook; sheets without one are passed over where another has one."""
    parts, fault = list[Rows](), None
    for grid in workbook.read_grids(path, profile, students):
        try:
            parts.append(table.read_rows(grid, profile, origin))
        except NoTableError as none:
            if profile.file.sheets is not None and grid.frame["text"].str.strip_chars().ne("").any():
                raise NoTableError(f"sheet '{grid.shown}': {none}", none.names) from None
            fault = fault or none
    if not parts:
        raise fault or NoTableError("no sheet holds anything")
    return parts


def _parquet(path: Path, fields: dict[str, str | None]) -> Rows:
    frame = pl.read_parquet(path)
    names = tuple(plain(name) for name in frame.columns)
    texts = [pl.col(name).cast(pl.String, strict=False).alias(COLUMN + plain(name)) for name in frame.columns]
    rows = frame.select(texts).with_row_index("line", offset=1)
    said = [pl.lit(value, pl.String).alias(COLUMN + name) for name, value in fields.items()]
    nothing = [pl.lit(None, pl.String).alias(name) for name in ("place", "fault")]
    whole = pl.concat_str([pl.col(COLUMN + name).fill_null("") for name in names], separator="\t").alias("whole")
    return Rows(rows.with_columns(pl.col("line").cast(pl.Int64), whole, *said, *nothing), names, 0)


def _digests(rows: pl.DataFrame) -> pl.Series:
    """Return a hash of all that each row says, whatever of it is mapped: equal ones are the same row again."""
    told = [pl.col(name).fill_null("") for name in rows.columns if name.startswith(COLUMN)]
    texts = rows.select(told=pl.concat_str([pl.col("whole").fill_null(""), *told], separator="\x1f"))
    signs = [md5(text.encode("utf-8", "surrogatepass"), usedforsecurity=False).hexdigest() for text in texts["told"]]
    return pl.Series("digest", signs, pl.String)


def _check_names(names: tuple[str, ...], profile: Profile, shown: str) -> None:
    known = {*names, *profile.fields}
    missing = [source for name in profile.needed for source in profile.columns[name].sources
               if plain(source) not in known]  # fmt: skip
    if missing:
        fault = NoTableError(f"no column {', '.join(map(repr, missing))}", names)
        raise RefusedError(_in_words(fault, profile, shown))


def _in_words(fault: NoTableError, profile: Profile, shown: str) -> str:
    if isinstance(fault, UnsaidFieldError):
        return f"{fault}: is that right, or may it be missing (optional = true)? see {shown}"
    count = len([name for name in fault.names if name])
    found = f" ({count:,} column{'s' if count != 1 else ''})" if count else ""
    asked = {"workbook": "is the sheet right", "csv": f"is the delimiter {profile.file.delimiter!r} right"}
    remedy = asked.get(profile.file.format, "are the paths right")
    return f"{fault}{found}: {remedy}, and are the names in the profile? see {shown}"


def _absent(names: tuple[str, ...], profile: Profile, shown: str) -> list[str]:
    known = {*names, *profile.fields}
    return [
        f"no column '{source}', so {name} is empty; see {shown}"
        for name, column in profile.columns.items()
        for source in column.sources
        if plain(source) not in known and not column.optional
    ]
