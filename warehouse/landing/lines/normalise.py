"""Whether an export can be read as it stands, and where it cannot, the clean copy that is read instead.

Not here: how a line is cleaned (normalise_lines.py), nor when an export is refused (inspect.py).
"""

from __future__ import annotations

import codecs
import gzip
from collections.abc import Iterable, Iterator
from pathlib import Path

from warehouse.landing.lines import normalise_lines
from warehouse.landing.lines.byte_scan import SLICE, RefusedError
from warehouse.landing.lines.header import Header
from warehouse.landing.profile.profile import Profile
from warehouse.settings.settings import Limits


class Copying:
    """Watches the bytes for what the database cannot take as it stands, and writes the clean copy if there is any."""

    def __init__(self, scratch: Path, profile: Profile) -> None:
        self.scratch, self.profile = scratch, profile
        self.narrow = not profile.file.encoding.replace("_", "-").startswith(("utf-16", "utf-32"))
        self.utf8 = codecs.lookup(profile.file.encoding).name in ("utf-8", "utf-8-sig", "ascii")
        self.decoder = codecs.getincrementaldecoder("utf-8")()
        self.as_it_stands = self.narrow

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

    def settle(self) -> None:
        """Note a character that the end of the file cut short."""
        if self.decoder.getstate()[0]:
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
        with gzip.open(path) if packed else path.open("rb") as source, copy.open("wb") as out:
            pieces: Iterator[bytes] = iter(lambda: source.read(SLICE), b"")
            if not self.narrow:
                pieces = widened(pieces, shape.encoding)
            encoding = ("utf-8" if self.utf8 else shape.encoding) if self.narrow else "utf-8"
            text = normalise_lines.decoded(normalise_lines.physical_lines(pieces), encoding, limits.line_characters)
            if shape.format == "csv":
                text = normalise_lines.records(_below(text, header.line), shape.delimiter, len(header.names))
            for line in text:
                piece = line.encode() + b"\n"
                lines, total = lines + 1, total + len(piece)
                out.write(piece)
        return copy, lines, total


def _below(lines: Iterator[str], header_line: int) -> Iterator[str]:
    """Blank out the lines down to the header, whose quotes are not the rows' business."""
    for number, line in enumerate(lines, start=1):
        yield "" if number <= header_line else line


def widened(pieces: Iterable[bytes], encoding: str) -> Iterator[bytes]:
    """Turn UTF-16 or UTF-32 into UTF-8; what cannot be read becomes a control character, which spoils its line.

    Raises
    ------
    RefusedError
        The encoding is told by a byte-order mark, and there is none.
    """
    codecs.register_error("spoil", lambda fault: ("\x00", fault.end))  # type: ignore[attr-defined]
    decoder = codecs.getincrementaldecoder(encoding)(errors="spoil")
    try:
        for piece in pieces:
            yield decoder.decode(piece).encode()
        yield decoder.decode(b"", final=True).encode()
    except UnicodeError:
        raise RefusedError(
            f"begins without the byte-order mark of {encoding}: copy it again from the bay, or where the bay writes "
            f'none, say encoding = "{encoding}-le" or "{encoding}-be"'
        ) from None
