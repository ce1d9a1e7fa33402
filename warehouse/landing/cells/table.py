"""The rows of a grid that are shots, and the columns they stand in: header, units, repeats, summaries and the rest.

A file may hold several tables one below the other, each under a header of its own. Not here: what the cells mean
(columns.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import polars as pl

from warehouse.landing.cells.grid import Grid, tidy
from warehouse.landing.cells.outside import Origin, found_on_lines, mapped, said_by_name
from warehouse.landing.lines.header import LINES_TRIED, plain
from warehouse.landing.profile.layout import END_AT_BLANK, ON_LINES, OutsideField
from warehouse.landing.profile.profile import Profile

COLUMN = "c:"
"""Before the name of a file's column or of a field in a frame of rows."""
ABOVE, ROW, NOT_A_SHOT = 0, 1, 2


@dataclass(frozen=True)
class Rows:
    """Shots of one table.

    `frame` holds line, place, fault, whole, and a column of text for each header and field, named "c:" and the name.
    `names` are the headers met; `passed_over` counts lines under a header that are no shots.
    """

    frame: pl.DataFrame
    names: tuple[str, ...]
    passed_over: int


class NoTableError(ValueError):
    """A grid in which no header serves; the message says what was looked for, `names` what was found."""

    def __init__(self, message: str, names: Sequence[str] = ()) -> None:
        super().__init__(message)
        self.names = tuple(names)


class UnsaidFieldError(NoTableError):
    """A field that a file has to say and does not."""


def wanted_names(profile: Profile) -> list[str]:
    """Return the headers without which a line is no header of this profile's."""
    sources = [source for name in profile.needed for source in profile.columns[name].sources]
    return sorted({plain(source) for source in sources if source not in profile.fields})


def read_rows(grid: Grid, profile: Profile, origin: Origin) -> Rows:
    """Return the shots of a grid.

    Raises
    ------
    NoTableError
        No line names the columns that a shot needs, or a field that is not optional is said nowhere.
    """
    frame = grid.frame.with_columns(tidy("cells").alias("tidied")).with_columns(
        pl.col("tidied").list.eval(pl.element() != "").list.sum().fill_null(0).alias("filled")
    )
    frame = _with_tables(frame, profile)
    few = pl.col("filled") < max(len(wanted_names(profile)), 2)
    outside = ((pl.col("table") == 0) | few) & ~pl.col("is_header") & (pl.col("filled") > 0)
    frame = frame.with_columns(outside.alias("outside"))
    values, said_at = _outside_values(grid, frame, profile, origin)
    frame = _judge(frame, profile, said_at)
    named, names = _named(frame.filter(pl.col("kind") == ROW), profile, frame)
    for name, value in values.items():
        held = value.filter(frame["kind"] == ROW) if isinstance(value, pl.Series) else pl.lit(value, pl.String)
        named = named.with_columns(held.alias(COLUMN + name))
    kept = named.filter(_is_shot(profile, named.columns))
    first_header = pl.col("is_header") & (pl.col("table") == 1)
    aside = frame.filter((pl.col("kind") == NOT_A_SHOT) & (pl.col("filled") > 0) & ~first_header)
    passed = aside.height + named.height - kept.height
    place = pl.lit(None, pl.String) if grid.sheet is None else pl.lit(f"{grid.shown}!") + pl.col("line").cast(pl.String)
    return Rows(kept.with_columns(place.alias("place"), pl.col("line") + grid.first_line), names, passed)


def _with_tables(frame: pl.DataFrame, profile: Profile) -> pl.DataFrame:
    """Mark the headers, and number the tables under them; 0 is what stands above the first."""
    shape, wanted = profile.file, wanted_names(profile)
    serves = pl.all_horizontal(pl.col("tidied").list.contains(pl.lit(name)) for name in wanted)
    below = pl.col("line") > shape.skip_rows
    if shape.header == "find":
        is_header = serves & below
        first = frame.filter(is_header)["line"].min()
        if first is None or int(first) > shape.skip_rows + LINES_TRIED:  # type: ignore[call-overload]
            likely = frame.filter(below).sort("filled", descending=True, maintain_order=True).head(1)
            names = likely["tidied"].item().to_list() if likely.height else []
            raise NoTableError(f"no line names all of {_listed(wanted)}", names)
    else:
        first = frame.filter(below & (pl.col("filled") > 0))["line"].min()
        header = frame.filter(pl.col("line") == first)["tidied"].to_list()
        names = header[0] if header else []
        missing = [name for name in wanted if name not in names]
        if missing:
            raise NoTableError(f"no column {_listed(missing)} in the header", names)
        same = pl.col("tidied") == pl.lit(names, pl.List(pl.String)) if profile.rows.repeated_header else pl.lit(False)
        is_header = (pl.col("line") == first) | (below & same)
    frame = frame.with_columns((is_header & pl.col("fault").is_null()).alias("is_header"))
    return frame.with_columns(pl.col("is_header").cum_sum().cast(pl.Int64).alias("table"))


def _listed(names: Sequence[str]) -> str:
    return ", ".join(f"'{name}'" for name in names)


def _outside_values(
    grid: Grid, frame: pl.DataFrame, profile: Profile, origin: Origin
) -> tuple[dict[str, pl.Series | str | None], set[int]]:
    """Return each field's value (one for all lines, or one a line), and the lines on which fields are said."""
    values: dict[str, pl.Series | str | None] = {}
    said_at: set[int] = set()
    above_all = frame.filter(pl.col("table") == 0)["line"]
    several = (frame["table"].max() or 0) > 1
    for name, field in profile.fields.items():
        if field.kind not in ON_LINES:
            values[name] = mapped(said_by_name(field, origin, grid.sheet), field.map)
        else:
            found = found_on_lines(grid, field, _may_say(frame, field), profile.file.delimiter)
            found = {line: mapped(value, field.map) or "" for line, value in found.items()}
            said_at |= set(found) if field.cell is None else set()
            everywhere = not several or min(found, default=0) in set(above_all)
            values[name] = _held(frame["line"], found, everywhere)
        needless = field.optional or (not origin.inbox and name not in profile.fields_of_shots)
        if values[name] is None and not needless:
            raise UnsaidFieldError(_unsaid(name, field))
    return values, said_at


def _unsaid(name: str, field: OutsideField) -> str:
    return f"nothing says {name} ({field.kind} = '{getattr(field, field.kind)}')"


def _may_say(frame: pl.DataFrame, field: OutsideField) -> pl.Series:
    """Return which lines may say a field: those outside the table, and any that begin with its label."""
    if field.label is None:
        return frame["outside"]
    first = pl.col("tidied").list.eval(pl.element().filter(pl.element() != "")).list.first().fill_null("")
    label = field.label.rstrip(":= ").casefold()
    begins = first.str.to_lowercase().str.starts_with(label) & ~pl.col("is_header")
    return frame.select(pl.col("outside") | begins).to_series()


def _held(lines: pl.Series, found: dict[int, str], everywhere: bool) -> pl.Series | str | None:
    """Return what holds at each line: the value said last above it; one that is said once may hold everywhere."""
    if not found or (everywhere and len(set(found.values())) == 1):
        return next(iter(found.values()), None)
    return lines.replace_strict(found, default=None, return_dtype=pl.String).forward_fill()


def _judge(frame: pl.DataFrame, profile: Profile, said_at: set[int]) -> pl.DataFrame:
    """Say of every line what it is: above all tables, a row, or under a header and no shot."""
    rules = profile.rows
    something = (pl.col("filled") > 0) | pl.col("fault").is_not_null()
    nth = (something & ~pl.col("is_header")).cum_sum().over("table")
    ended = pl.lit(False)
    if rules.end_at == END_AT_BLANK:
        ended = (~something & (nth > rules.units_rows)).cum_max().over("table")
    elif rules.end_at is not None:
        ended = (pl.col("text").str.contains(rules.end_at) & ~pl.col("is_header")).cum_max().over("table")
    row = something & ~pl.col("is_header") & (nth > rules.units_rows) & ~ended
    row &= ~pl.col("line").is_in(sorted(said_at))
    frame = frame.with_columns(row.alias("row"), something.alias("something"))
    # Lines that lead to the next table's header, too short to be shots, are above that header.
    gap = (~pl.col("outside") & pl.col("something") & ~pl.col("is_header")) | pl.col("is_header")
    leads = pl.when(gap).then(pl.col("is_header")).otherwise(None).backward_fill().fill_null(False)
    row = pl.col("row") & ~(pl.col("outside") & leads & (pl.col("table") > 0))
    frame = frame.with_columns(row.alias("row"))
    if rules.footer_rows:
        last = frame.filter("something")["line"].tail(rules.footer_rows)
        frame = frame.with_columns(pl.col("row") & ~pl.col("line").is_in(last.to_list()))
    kind = pl.when(pl.col("table") == 0).then(ABOVE).when("row").then(ROW).otherwise(NOT_A_SHOT)
    return frame.with_columns(kind.alias("kind"))


def _named(rows: pl.DataFrame, profile: Profile, frame: pl.DataFrame) -> tuple[pl.DataFrame, tuple[str, ...]]:
    """Return rows with a column for each header of their table, and all headers met."""
    headers = frame.filter("is_header").select("table", "tidied").rows()
    parts, met = list[pl.DataFrame](), dict[str, None]()
    for names in {tuple(names): None for _, names in headers}:
        met.update(dict.fromkeys(name for name in names if name))
        tables = [table for table, other in headers if tuple(other) == names]
        places = {name: at for at, name in reversed(list(enumerate(names))) if name}
        cells = [pl.col("cells").list.get(at, null_on_oob=True).alias(COLUMN + name) for name, at in places.items()]
        part = rows.filter(pl.col("table").is_in(tables))
        beyond = pl.col("tidied").list.slice(len(names)).list.eval(pl.element() != "").list.any().fill_null(False)
        overfull = pl.format(
            "{} fields where the header has {}: is a delimiter inside a field that is not quoted?",
            pl.col("cells").list.len(), pl.lit(len(names)),
        )  # fmt: skip
        counts = beyond if profile.file.format == "csv" else pl.lit(False)
        fault = pl.when(pl.col("fault").is_null() & counts).then(overfull).otherwise("fault").alias("fault")
        parts.append(part.select("line", fault, pl.col("text").alias("whole"), *cells))
    return pl.concat(parts, how="diagonal").sort("line"), tuple(met)


def _is_shot(profile: Profile, there: Sequence[str]) -> pl.Expr:
    """Return whether a row is a shot by the profile's rules; what cannot be read at all is kept, to be told."""
    rules, shot = profile.rows, pl.lit(True)
    for name, pattern in rules.only_where.items():
        if COLUMN + name in there:
            shot &= pl.col(COLUMN + name).fill_null("").str.strip_chars().str.contains(pattern)
    for name, pattern in rules.except_where.items():
        if COLUMN + name in there:
            shot &= ~pl.col(COLUMN + name).fill_null("").str.strip_chars().str.contains(pattern)
    sources = [source for name in rules.summary_without for source in profile.columns[name].sources]
    cells = [COLUMN + source for source in sources if source not in profile.fields and COLUMN + source in there]
    if cells:
        shot &= pl.any_horizontal(pl.col(cell).fill_null("").str.contains(r"\d") for cell in cells)
    return shot | pl.col("fault").is_not_null()
