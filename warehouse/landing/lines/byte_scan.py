"""One pass over an export's bytes: hash, size unpacked, ends of lines, and what the database cannot take.

Not here: what follows from it (inspect.py).
"""

from __future__ import annotations

import gzip
import io
import zlib
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path
from typing import Any, BinaryIO

from warehouse.settings.settings import Limits

SLICE = 1 << 20
HEAD = 1 << 16
MEGABYTE = 1_000_000
CONTROL = bytes(ord(mark) for mark in "\x00\x01\x1c\x1d\x1e\x1f")


class RefusedError(ValueError):
    """An export that is refused whole; the message is the reason and the remedy."""


def too_large(limits: Limits) -> str:
    return (
        f"is larger than {limits.file_megabytes} megabytes (unpacked): split it, or raise limits.file_megabytes in "
        "academy.toml"
    )


def check_unpacked(size: int, packed_size: int, limits: Limits) -> None:
    """Refuse what is too large unpacked, or grows beyond all measure."""
    if size > limits.file_megabytes * MEGABYTE:
        raise RefusedError(too_large(limits))
    if size > 16 * SLICE and size > limits.compression_ratio * packed_size:
        raise RefusedError(
            f"grows more than {limits.compression_ratio}-fold when unpacked, which no table of shots does: "
            "export it again, or raise limits.compression_ratio in academy.toml"
        )


def check_columns(count: int, limits: Limits) -> None:
    """Refuse what has more columns than a table of shots can have."""
    if count > limits.columns:
        raise RefusedError(
            f"has more than {limits.columns:,} columns ({count:,}), which no table of shots has: export it again, or "
            "raise limits.columns in academy.toml"
        )


class ByteTally:
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
        held = b""
        while piece := source.read(SLICE):
            piece = held + piece
            held = b"\r" if piece.endswith(b"\r") else b""
            piece = piece[: len(piece) - len(held)]
            if piece:
                self._count(piece)
                yield piece
        if held:
            self._count(held)
            yield held

    def _count(self, piece: bytes) -> None:
        self.bytes += len(piece)
        check_unpacked(self.bytes, self.packed_bytes if self.packed else self.bytes, self.limits)
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
    """The packed side of a `ByteTally` as a stream, for the unpacker's buffer."""

    def __init__(self, tally: ByteTally) -> None:
        self.tally = tally

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        piece = self.tally.read(len(buffer))
        buffer[: len(piece)] = piece
        return len(piece)


def checked_bytes(path: Path, limits: Limits) -> tuple[str, bool]:
    """Return a file's hash and whether it is packed, having looked at every byte of it.

    Raises
    ------
    RefusedError
        Too large, or packed and broken.
    """
    with path.open("rb") as raw:
        packed = raw.read(2) == b"\x1f\x8b"
        raw.seek(0)
        tally = ByteTally(raw, packed, limits)
        try:
            for _ in tally.pieces():
                pass
        except (OSError, EOFError, zlib.error) as fault:
            raise RefusedError(packing_in_words(fault, tally)) from None
    return tally.digest.hexdigest(), packed


def packing_in_words(fault: Exception, tally: ByteTally) -> str:
    """Return why a file could not be unpacked."""
    if isinstance(fault, EOFError):
        return f"its compression ends early, after {tally.packed_bytes:,} bytes: copy it again from the bay"
    if isinstance(fault, gzip.BadGzipFile | zlib.error):
        return f"its compression is broken ({fault}): copy it again from the bay"
    return f"cannot be read ({fault}): check the file's rights and the disk"
