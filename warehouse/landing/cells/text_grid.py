"""A delimited text file as a grid: its encoding told or found, lines split into cells, quotes resolved.

Every physical line keeps its number. Not here: which line is the header of what (table.py).
"""

from __future__ import annotations

import gzip
from collections.abc import Iterator, Sequence
from pathlib import Path

import polars as pl
from charset_normalizer import from_bytes

from warehouse.landing.cells.grid import SCHEMA, Grid
from warehouse.landing.lines.byte_scan import SLICE, RefusedError
from warehouse.landing.lines.header import LINES_TRIED, parse, plain
from warehouse.landing.lines.normalise import widened
from warehouse.landing.lines.normalise_lines import (
    BAD,
    FIELD,
    GONE,
    NEWLINE,
    BrokenQuotesError,
    decoded,
    physical_lines,
    records,
    split_fields,
)
from warehouse.landing.profile.file_shape import DETECT
from warehouse.landing.profile.profile import Profile
from warehouse.settings.settings import Limits

MARKS = {b"\xef\xbb\xbf": "utf-8-sig", b"\xff\xfe\x00\x00": "utf-32", b"\xff\xfe": "utf-16", b"\xfe\xff": "utf-16"}
"""Byte-order marks, longer ones first where one begins another."""
LIKELY = ["cp1252", "cp1250", "cp1251", "cp1253", "cp1254", "cp932", "gb18030", "euc_kr", "mac_roman", "cp850"]
"""Encodings in which offices write, tried where a file is not UTF-8."""
TRIED_BYTES = 1 << 18


def detected(data: bytes) -> str:
    """Return a file's encoding: by its byte-order mark, UTF-8 where it is that, else by what its text looks like."""
    for mark, name in sorted(MARKS.items(), key=lambda entry: -len(entry[0])):
        if data.startswith(mark):
            return name
    even, odd = data[:TRIED_BYTES:2].count(0), data[1:TRIED_BYTES:2].count(0)
    if max(even, odd) > len(data[:TRIED_BYTES]) // 8:
        return "utf-16-le" if odd > even else "utf-16-be"
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        best = from_bytes(data[:TRIED_BYTES], cp_isolation=LIKELY).best()
        return best.encoding if best else "cp1252"
    return "utf-8"


def read_bytes(path: Path, packed: bool) -> bytes:
    """Return a file's bytes, unpacked; its size was looked at before (byte_scan.py)."""
    return gzip.decompress(path.read_bytes()) if packed else path.read_bytes()


def read_text(data: bytes, encoding: str, limits: Limits) -> list[str]:
    """Return a text's physical lines; one that cannot be read begins with BAD."""
    name = detected(data) if encoding == DETECT else encoding
    if name.startswith(("utf-16", "utf-32")):
        pieces = (data[at : at + SLICE] for at in range(0, len(data), SLICE))
        data, name = b"".join(widened(pieces, name)), "utf-8"
    return list(decoded(physical_lines([data]), name, limits.line_characters))


def read_grid(path: Path, packed: bool, profile: Profile, wanted: Sequence[str], limits: Limits) -> Grid:
    """Return a text file's lines as cells.

    Parameters
    ----------
    path, packed
        The file, and whether it is packed by gzip.
    profile
        How it is read.
    wanted
        Names that its header must hold, where the header is to be found.
    limits
        What an export may ask of the machine.

    Raises
    ------
    RefusedError
        It holds nothing.
    """
    lines = read_text(read_bytes(path, packed), profile.file.encoding, limits)
    if not any(line.strip() for line in lines):
        raise RefusedError("the file is empty: it holds nothing but blank lines; export the night again")
    delimiter = profile.file.delimiter
    first, last, names = _header(lines, profile, wanted)
    above = [FIELD.join(loosely_split(line, delimiter)) for line in lines[: first - 1]]
    header = [*[GONE] * (last - first), FIELD.join(names)] if names else []
    loose = any(source.written == "feet and inches" for source in profile.columns.values())
    below = _split(lines[last:] if names else lines[len(above) :], delimiter, len(names), loose)
    return Grid(_frame(lines, [*above, *header, *below]))


def _header(lines: list[str], profile: Profile, wanted: Sequence[str]) -> tuple[int, int, list[str]]:
    """Return the first and last line (from 1) of the first header and its names; no names where there is none."""
    shape, tried = profile.file, profile.file.skip_rows + LINES_TRIED
    if shape.header == "find":
        sought = {plain(name) for name in wanted}
        for number, line in enumerate(lines[:tried], start=1):
            cells = loosely_split(line, shape.delimiter)
            if number > shape.skip_rows and sought <= {plain(cell) for cell in cells}:
                return number, number, cells
        return 1, 0, []
    found = parse("\n".join(line.lstrip(BAD) for line in lines[:tried]) + "\n", shape.delimiter, shape.skip_rows)
    if found is None:
        raise RefusedError(f"the file is empty: it ends before a header after {shape.skip_rows} skipped rows")
    first = next(at for at, line in enumerate(lines, start=1) if at > shape.skip_rows and line.strip())
    return first, found.line, list(found.names)


def loosely_split(line: str, delimiter: str) -> list[str]:
    """Return a line's cells, taking quotes that do not add up for what they are."""
    try:
        return split_fields(line, delimiter)
    except BrokenQuotesError:
        return [cell.strip('"') if cell.startswith('"') else cell for cell in line.split(delimiter)]


def _split(lines: list[str], delimiter: str, width: int, loose: bool) -> Iterator[str]:
    """Yield lines with FIELD between cells; `loose`: a quote inside a cell is an inch mark, not a broken quote."""
    for line, split in zip(lines, records(lines, delimiter, width), strict=True):
        if loose and split.startswith(BAD) and not line.startswith(BAD):
            yield FIELD.join(loosely_split(line, delimiter))
        else:
            yield split


def _frame(lines: list[str], split: list[str]) -> pl.DataFrame:
    joined = pl.col("split")
    bad = joined.str.starts_with(BAD)
    frame = pl.DataFrame({"text": lines, "split": split}).with_row_index("line", offset=1)
    return (
        frame.filter(joined != GONE)
        .with_columns(
            pl.col("line").cast(pl.Int64),
            pl.when(bad).then(joined.str.slice(1).str.split(FIELD).list.first()).alias("fault"),
            pl.when(bad)
            .then(pl.lit([], pl.List(pl.String)))
            .otherwise(joined.str.replace_all(NEWLINE, "\n").str.split(FIELD))
            .alias("cells"),
            pl.when(pl.col("text").str.starts_with(BAD))
            .then(pl.col("text").str.split(FIELD).list.slice(1).list.join(""))
            .otherwise("text")
            .alias("text"),
        )
        .select(*SCHEMA)
    )
