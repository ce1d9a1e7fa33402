"""Looks at one export before it is trusted to the bulk read: whole, unpacked, with the header its profile names.

A lenient bulk read takes half a packed file, a missing column or an empty file without a word; here each is refused in
words. The bytes are read once: hash, packing, ends of lines, encoding. Not here: the rows (bulk_load.py).
"""

from __future__ import annotations

import gzip
import json
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path

import duckdb
import polars as pl

from warehouse.landing.cells.outside import Origin
from warehouse.landing.cells.read import BESIDE, Context, read_cells
from warehouse.landing.exports.discover import ExportFile
from warehouse.landing.lines import normalise_lines
from warehouse.landing.lines.byte_scan import (
    MEGABYTE,
    SLICE,
    ByteTally,
    RefusedError,
    check_columns,
    check_unpacked,
    checked_bytes,
    packing_in_words,
    too_large,
)
from warehouse.landing.lines.header import Header, HeaderError, check, parse, plain
from warehouse.landing.lines.normalise import Copying
from warehouse.landing.path_safety import in_words
from warehouse.landing.profile.profile import Profile
from warehouse.settings.settings import Limits

JSON_LINES_TRIED = 200
KINDS = {
    "csv": (".csv", ".csv.gz", ".tsv", ".tsv.gz", ".txt"), "parquet": (".parquet",), "jsonl": (".jsonl", ".jsonl.gz"),
    "json": (".json", ".json.gz"), "workbook": (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods"),
}  # fmt: skip
"""Format -> how its files may end in landing/shots; a converter's may end in any way."""
VALUE_BYTES = 8


@dataclass
class Inspected:
    """An export that may be read.

    Attributes
    ----------
    read_from
        The export itself, or its clean copy.
    header
        Names, and the line the header ends on.
    delimiter
        Between the fields of `read_from`.
    lines, text_bytes
        Physical lines and bytes, unpacked (parquet: rows, and bytes as they are in memory).
    types
        Parquet: the database's type of each column.
    cells
        Whether `read_from` holds what was read cell by cell.
    passed_over
        Lines under the header that the profile's rules call no shots.
    """

    file: ExportFile
    content_hash: str
    read_from: Path
    header: Header
    delimiter: str
    lines: int
    text_bytes: int
    types: tuple[str, ...] = ()
    warnings: list[str] = field(default_factory=list)
    cells: bool = False
    passed_over: int = 0


def inspect(
    con: duckdb.DuckDBPyConnection,
    path: Path,
    file: ExportFile,
    profile: Profile,
    limits: Limits,
    scratch: Path,
    shown: str,
    context: Context | None = None,
) -> Inspected:
    """Return what the bulk read needs to know of an export, or refuse it.

    Parameters
    ----------
    con
        Any connection; parquet's own description is read by it.
    path
        Where it lies.
    file
        What it is.
    profile, shown
        How its bay's exports are read, and the profile's name for messages.
    limits
        What it may ask of the machine.
    scratch
        Folder for clean copies; the caller clears it.
    context
        What a profile with a layout may need beside the file.

    Raises
    ------
    RefusedError
        Empty, broken, of another format, too large, or without a required column.
    """
    if file.piece is None:
        _check_kind(file, profile, shown)
    if path.stat().st_size == 0:
        raise RefusedError("the file is empty: export the night again")
    if path.stat().st_size > limits.file_megabytes * MEGABYTE:
        raise RefusedError(too_large(limits))
    if profile.has_layout or file.piece is not None:
        return inspect_cells(path, file, profile, scratch, shown, context or Context(limits))
    if file.suffix == ".parquet":
        return _inspect_parquet(con, path, file, profile, shown, limits)
    with path.open("rb") as raw:
        tally = ByteTally(raw, file.suffix.endswith(".gz"), limits)
        try:
            copy = Copying(scratch, profile)
            for piece in tally.pieces():
                copy.watch(piece)
        except (OSError, EOFError, zlib.error) as fault:
            raise RefusedError(packing_in_words(fault, tally)) from None
    copy.settle()
    head = copy.head_text(bytes(tally.head))
    if not head.strip():
        raise RefusedError("the file is empty: it holds nothing but blank lines; export the night again")
    return _finish(path, file, profile, shown, limits, tally, copy, head)


def _check_kind(file: ExportFile, profile: Profile, shown: str) -> None:
    kinds = KINDS
    if profile.file.format in kinds and file.suffix not in kinds[profile.file.format]:
        raise RefusedError(
            f"{shown} reads {profile.file.format}, and the file is named '{file.path.rsplit('/', 1)[-1]}': "
            f"it should end in {' or '.join(kinds[profile.file.format])}"
        )


def inspect_cells(
    path: Path, file: ExportFile, profile: Profile, scratch: Path, shown: str, context: Context
) -> Inspected:
    """Return an export whose profile has a layout, read cell by cell into a table beside it."""
    content_hash, packed = checked_bytes(path, context.limits)
    if file.piece is not None:
        frame = pl.read_parquet(path)
        return as_cells(file, content_hash, path, frame, passed_over=file.passed_over)
    origin = Origin(path.name)
    table = read_cells(path, packed, profile, origin, context, shown)
    copy = scratch / (sha256(file.path.encode()).hexdigest()[:24] + ".parquet")
    table.frame.write_parquet(copy)
    return as_cells(file, content_hash, copy, table.frame, warnings=table.warnings, passed_over=table.passed_over)


def as_cells(
    file: ExportFile, content_hash: str, read_from: Path, frame: pl.DataFrame, *, warnings: Sequence[str] = (),
    passed_over: int = 0,
) -> Inspected:  # fmt: skip
    """Return what the bulk read needs to know of a table that was read cell by cell."""
    names = tuple(name for name in frame.columns if name not in BESIDE)
    size = max(int(frame.estimated_size()), 1)
    return Inspected(file, content_hash, read_from, Header(names), "", frame.height, size,
                     ("VARCHAR",) * len(names), list(warnings), True, passed_over)  # fmt: skip


def _finish(
    path: Path,
    file: ExportFile,
    profile: Profile,
    shown: str,
    limits: Limits,
    tally: ByteTally,
    copy: Copying,
    head: str,
) -> Inspected:
    shape, packed = profile.file, file.suffix.endswith(".gz")
    if shape.format == "jsonl":
        header = _json_names(path, packed, head, profile, limits)
    else:
        parsed = parse(head, shape.delimiter, shape.skip_rows)
        if parsed is None:
            raise RefusedError(f"the file is empty: it ends before a header after {shape.skip_rows} skipped rows")
        header = parsed
    check_columns(len(header.names), limits)
    try:
        warnings = check(header, profile, shown)
    except HeaderError as fault:
        raise RefusedError(str(fault) + _hint(bytes(tally.head), packed)) from None
    done = Inspected(file, tally.digest.hexdigest(), path, header, shape.delimiter, tally.lines, tally.bytes,
                     warnings=warnings)  # fmt: skip
    quoted = tally.quotes and shape.format == "csv"
    if not copy.as_it_stands or quoted or tally.control or tally.long_line or not tally.plain_ends:
        name = sha256(file.path.encode()).hexdigest()[:24] + ".txt"
        done.read_from, done.lines, done.text_bytes = copy.write(path, packed, header, limits, name)
        done.delimiter = normalise_lines.FIELD
    return done


def _hint(head: bytes, packed: bool) -> str:
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return ' (the file begins like UTF-16; encoding = "utf-16" would read it)'
    if not packed and head.startswith(b"\x1f\x8b"):
        return " (the file is packed: it should end in .gz)"
    return ""


def _json_names(path: Path, packed: bool, head: str, profile: Profile, limits: Limits) -> Header:
    """Return the keys of a JSON-lines file: of its first lines, and on until every required one was met."""
    names = dict[str, None]()

    def take(line: str) -> None:
        try:
            found = json.loads(line)
        except (ValueError, RecursionError):
            return
        if isinstance(found, dict):
            names.update(dict.fromkeys(in_words(name) for name in found))

    for line in head.split("\n")[:JSON_LINES_TRIED]:
        take(line)
    required = {plain(profile.columns[name].source) for name in profile.needed}
    if not required <= {plain(name) for name in names}:
        with gzip.open(path) if packed else path.open("rb") as source:
            while row := source.readline(4 * limits.line_characters):
                take(row.decode(profile.file.encoding, errors="replace"))
                if required <= names.keys() or len(names) > limits.columns:
                    break
    return Header(tuple(names))


def _inspect_parquet(
    con: duckdb.DuckDBPyConnection, path: Path, file: ExportFile, profile: Profile, shown: str, limits: Limits
) -> Inspected:
    size = path.stat().st_size
    digest = sha256()
    with path.open("rb") as raw:
        while piece := raw.read(SLICE):
            digest.update(piece)
    try:
        columns = con.execute("describe from read_parquet($1)", [str(path)]).fetchall()
        (rows,) = con.execute("select sum(num_rows) from parquet_file_metadata($1)", [str(path)]).fetchone() or (0,)
        (said,) = con.execute("select sum(total_uncompressed_size) from parquet_metadata($1)", [str(path)]).fetchone()
    except duckdb.Error as fault:
        raise RefusedError(
            f"is no whole parquet file ({str(fault).splitlines()[0]}): copy it again from the bay"
        ) from None
    # Encodings shrink repeated values to almost nothing, so the rows count by what they are in memory.
    unpacked = max(int(said or 0), int(rows) * len(columns) * VALUE_BYTES)
    check_unpacked(unpacked, size, limits)
    header = Header(tuple(row[0] for row in columns))
    check_columns(len(columns), limits)
    try:
        warnings = check(Header(tuple(plain(name) for name in header.names)), profile, shown)
    except HeaderError as fault:
        raise RefusedError(str(fault)) from None
    return Inspected(file, digest.hexdigest(), path, header, "", int(rows), unpacked,
                     tuple(row[1] for row in columns), warnings)  # fmt: skip
