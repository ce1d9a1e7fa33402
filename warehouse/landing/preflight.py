"""Looks at one export before it is trusted to the bulk read: whole, unpacked, with the header its profile names.

A lenient bulk read takes half a packed file, a missing column or an empty file without a word; here each is refused in
words. The bytes are read once: hash, packing, ends of lines, encoding. Not here: the rows (bulk_read.py).
"""

from __future__ import annotations

import codecs
import gzip
import io
import json
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Any, BinaryIO

import duckdb

from warehouse.landing import clean_copy
from warehouse.landing.arrivals import ExportFile
from warehouse.landing.header import Header, HeaderError, check, parse, plain
from warehouse.landing.profile import REQUIRED, Profile
from warehouse.settings import Limits

SLICE = 1 << 20
MEGABYTE = 1_000_000
HEAD = 1 << 18
UTF_BOM = b"\xef\xbb\xbf"
CONTROL = bytes(ord(mark) for mark in "\x00\x01\x1c\x1d\x1e\x1f")
JSON_LINES_TRIED = 200


class RefusedError(ValueError):
    """An export that is refused whole; the message is the reason and the remedy."""


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
        Physical lines and bytes, unpacked (parquet: rows, and bytes packed).
    types
        Parquet: the database's type of each column.
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


class _Tally:
    """What one pass over a file's bytes finds out; `pieces` feeds it and hands the bytes on."""

    def __init__(self, raw: BinaryIO, packed: bool, limits: Limits) -> None:
        self.raw, self.packed, self.limits = raw, packed, limits
        self.digest = sha256()
        self.packed_bytes = self.bytes = self.lf = self.crlf = self.cr = 0
        self.head = bytearray()
        self.quotes = self.control = self.long_line = self.other = False
        self.last = b""
        self._open_line = 0

    def read(self, size: int = -1) -> bytes:
        """Read packed bytes for the unpacker, hashing them."""
        piece = self.raw.read(size)
        self.packed_bytes += len(piece)
        self.digest.update(piece)
        return piece

    def pieces(self) -> Iterator[bytes]:
        """Yield the unpacked bytes in slices that never end between CR and LF."""
        source: Any = gzip.GzipFile(fileobj=io.BufferedReader(_Raw(self), SLICE)) if self.packed else self
        while piece := source.read(SLICE):
            while piece.endswith(b"\r") and (extra := source.read(1)):
                piece += extra
            self._count(piece)
            yield piece

    def _count(self, piece: bytes) -> None:
        self.bytes += len(piece)
        if self.bytes > self.limits.file_megabytes * MEGABYTE:
            raise RefusedError(_too_large(self.limits))
        if self.packed and self.bytes > 16 * SLICE and self.bytes > self.limits.compression_ratio * self.packed_bytes:
            raise RefusedError(
                f"grows more than {self.limits.compression_ratio}-fold when unpacked, which no table of shots does: export it "
                "again, or raise limits.compression_ratio in academy.toml"
            )
        if len(self.head) < HEAD:
            self.head += piece[: HEAD - len(self.head)]
        self.lf += piece.count(b"\n")
        if b"\r" in piece:
            self.cr += piece.count(b"\r")
            self.crlf += piece.count(b"\r\n")
        self.quotes = self.quotes or b'"' in piece
        self.control = self.control or any(mark in piece for mark in CONTROL)
        self._measure_lines(piece)
        self.last = piece[-1:]

    def _measure_lines(self, piece: bytes) -> None:
        """Notice a line over the limit, hopping from line end to line end instead of reading every one."""
        longest, at, end = self.limits.line_characters, -self._open_line, len(piece)
        while not self.long_line and at + longest < end:
            hop = piece.rfind(b"\n", max(at, 0), at + longest + 1)
            if hop < 0:
                self.long_line = True
            at = hop + 1
        self._open_line = end - 1 - piece.rfind(b"\n") if b"\n" in piece else self._open_line + end

    @property
    def lines(self) -> int:
        """Return the number of physical lines."""
        return self.lf + (self.last not in (b"\n", b""))

    @property
    def plain_ends(self) -> bool:
        """Return whether all lines end alike, in LF or CRLF."""
        return self.cr == self.crlf and self.crlf in (0, self.lf)


class _Raw(io.RawIOBase):
    """The packed side of a `_Tally` as a stream, for the unpacker's buffer."""

    def __init__(self, tally: _Tally) -> None:
        self.tally = tally

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        piece = self.tally.read(len(buffer))
        buffer[: len(piece)] = piece
        return len(piece)


def inspect(
    con: duckdb.DuckDBPyConnection, path: Path, file: ExportFile, profile: Profile, limits: Limits, scratch: Path, shown: str
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

    Raises
    ------
    RefusedError
        Empty, broken, of another format, too large, or without a required column.
    """
    _check_kind(file, profile, shown)
    if path.stat().st_size == 0:
        raise RefusedError("the file is empty: export the night again")
    if file.suffix == ".parquet":
        return _inspect_parquet(con, path, file, profile, shown, limits)
    with path.open("rb") as raw:
        tally = _Tally(raw, file.suffix.endswith(".gz"), limits)
        try:
            wide = profile.file.encoding.replace("_", "-").startswith(("utf-16", "utf-32"))
            copy = _Copy(scratch, profile, narrow=not wide)
            for piece in tally.pieces():
                copy.watch(piece)
        except (OSError, EOFError, zlib.error) as fault:
            raise RefusedError(_packing_in_words(fault, tally)) from None
    if copy.decoder.getstate()[0]:
        copy.as_it_stands = False
    head = copy.head_text(bytes(tally.head))
    if not head.strip():
        raise RefusedError("the file is empty: it holds nothing but blank lines; export the night again")
    return _finish(path, file, profile, shown, limits, tally, copy, head)


def _check_kind(file: ExportFile, profile: Profile, shown: str) -> None:
    kinds = {"csv": (".csv", ".csv.gz", ".tsv", ".tsv.gz"), "parquet": (".parquet",), "jsonl": (".jsonl", ".jsonl.gz")}
    if file.suffix not in kinds[profile.file.format]:
        raise RefusedError(
            f"{shown} reads {profile.file.format}, and the file is named '{file.path.rsplit('/', 1)[-1]}': "
            f"it should end in {' or '.join(kinds[profile.file.format])}"
        )


def _too_large(limits: Limits) -> str:
    return (
        f"is larger than {limits.file_megabytes} megabytes (unpacked): split it, or raise limits.file_megabytes in "
        "academy.toml"
    )


def _packing_in_words(fault: Exception, tally: _Tally) -> str:
    if isinstance(fault, EOFError):
        return f"its compression ends early, after {tally.packed_bytes:,} bytes: copy it again from the bay"
    if isinstance(fault, gzip.BadGzipFile | zlib.error):
        return f"its compression is broken ({fault}): copy it again from the bay"
    return f"cannot be read ({fault}): check the file's rights and the disk"


class _Copy:
    """Watches the bytes for what the database cannot take as it stands, and writes the clean copy if there is any."""

    def __init__(self, scratch: Path, profile: Profile, narrow: bool) -> None:
        self.scratch, self.profile, self.narrow = scratch, profile, narrow
        self.utf8 = codecs.lookup(profile.file.encoding).name in ("utf-8", "utf-8-sig", "ascii")
        self.decoder = codecs.getincrementaldecoder("utf-8")()
        self.as_it_stands = narrow

    def watch(self, piece: bytes) -> None:
        """Note whether the bytes are anything but sound UTF-8."""
        if not self.as_it_stands or piece.isascii():
            if self.as_it_stands and self.decoder.getstate()[0]:
                self.as_it_stands = False
            return
        if not self.utf8:
            self.as_it_stands = False
            return
        try:
            self.decoder.decode(piece)
        except UnicodeDecodeError:
            self.as_it_stands = False

    def head_text(self, head: bytes) -> str:
        """Return the first lines as text; what is not in the encoding shows as the replacement character."""
        encoding = self.profile.file.encoding
        return head.decode("utf-8-sig" if self.utf8 else encoding, errors="replace").removeprefix("\ufeff")

    def write(self, path: Path, packed: bool, header: Header, limits: Limits, name: str) -> tuple[Path, int, int]:
        """Write the clean copy; return it, its lines and its bytes."""
        shape = self.profile.file
        copy = self.scratch / name
        lines = total = 0
        with (gzip.open(path) if packed else path.open("rb")) as source, copy.open("wb") as out:
            pieces: Iterator[bytes] = iter(lambda: source.read(SLICE), b"")
            if not self.narrow:
                pieces = _widened(pieces, shape.encoding)
            encoding = ("utf-8" if self.utf8 else shape.encoding) if self.narrow else "utf-8"
            text = clean_copy.decoded(clean_copy.physical_lines(pieces), encoding, limits.line_characters)
            if shape.format == "csv":
                text = clean_copy.records(_below(text, header.line), shape.delimiter, len(header.names))
            for line in text:
                piece = line.encode() + b"\n"
                lines, total = lines + 1, total + len(piece)
                out.write(piece)
        return copy, lines, total


def _below(lines: Iterator[str], header_line: int) -> Iterator[str]:
    """Blank out the lines down to the header, whose quotes are not the rows' business."""
    for number, line in enumerate(lines, start=1):
        yield "" if number <= header_line else line


def _widened(pieces: Iterator[bytes], encoding: str) -> Iterator[bytes]:
    """Turn UTF-16 or UTF-32 into UTF-8; what cannot be read becomes a control character, which spoils its line."""
    codecs.register_error("spoil", lambda fault: ("\x00", fault.end))  # type: ignore[attr-defined]
    decoder = codecs.getincrementaldecoder(encoding)(errors="spoil")
    for piece in pieces:
        yield decoder.decode(piece).encode()
    yield decoder.decode(b"", final=True).encode()


def _finish(
    path: Path, file: ExportFile, profile: Profile, shown: str, limits: Limits, tally: _Tally, copy: _Copy, head: str
) -> Inspected:
    shape, packed = profile.file, file.suffix.endswith(".gz")
    if shape.format == "jsonl":
        header = _json_names(path, packed, head, profile)
    else:
        parsed = parse(head, shape.delimiter, shape.skip_rows)
        if parsed is None:
            raise RefusedError(f"the file is empty: it ends before a header after {shape.skip_rows} skipped rows")
        header = parsed
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
        done.delimiter = clean_copy.FIELD
    return done


def _hint(head: bytes, packed: bool) -> str:
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return ' (the file begins like UTF-16; encoding = "utf-16" would read it)'
    if not packed and head.startswith(b"\x1f\x8b"):
        return " (the file is packed: it should end in .gz)"
    return ""


def _json_names(path: Path, packed: bool, head: str, profile: Profile) -> Header:
    """Return the keys of a JSON-lines file: of its first lines, and on until every required one was met."""
    names = dict[str, None]()

    def take(line: str) -> None:
        try:
            found = json.loads(line)
        except ValueError:
            return
        if isinstance(found, dict):
            names.update(dict.fromkeys(found))

    for line in head.split("\n")[:JSON_LINES_TRIED]:
        take(line)
    required = {plain(profile.columns[name].source) for name in REQUIRED}
    if not required <= {plain(name) for name in names}:
        with (gzip.open(path) if packed else path.open("rb")) as source:
            for row in source:
                take(row.decode(profile.file.encoding, errors="replace"))
                if required <= set(names):
                    break
    return Header(tuple(names))


def _inspect_parquet(
    con: duckdb.DuckDBPyConnection, path: Path, file: ExportFile, profile: Profile, shown: str, limits: Limits
) -> Inspected:
    size = path.stat().st_size
    if size > limits.file_megabytes * MEGABYTE:
        raise RefusedError(_too_large(limits))
    digest = sha256()
    with path.open("rb") as raw:
        while piece := raw.read(SLICE):
            digest.update(piece)
    try:
        columns = con.execute("describe from read_parquet($1)", [str(path)]).fetchall()
        (rows,) = con.execute("select sum(num_rows) from parquet_file_metadata($1)", [str(path)]).fetchone() or (0,)
    except duckdb.Error as fault:
        raise RefusedError(
            f"is no whole parquet file ({str(fault).splitlines()[0]}): copy it again from the bay"
        ) from None
    header = Header(tuple(row[0] for row in columns))
    try:
        warnings = check(Header(tuple(plain(name) for name in header.names)), profile, shown)
    except HeaderError as fault:
        raise RefusedError(str(fault)) from None
    return Inspected(file, digest.hexdigest(), path, header, "", int(rows), size,
                     tuple(row[1] for row in columns), warnings)  # fmt: skip
