"""A clean copy of an export that the database cannot read as it stands: one record a line, no quotes, UTF-8.

Quoted fields, other encodings, mixed ends of lines and broken bytes are settled here, line by line, so that every
physical line of the file is one line of the copy and line numbers stay true. Most exports never come here.
Quoting follows RFC 4180. Not here: deciding which files need it (inspect.py).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

FIELD, NEWLINE, GONE, BAD = "\x1f", "\x1e", "\x1d", "\x1c"
"""Between fields; an end of line inside a field; a line that belongs to the record above; a line that is unparsable."""
MARKS = re.compile("[\x00\x01\x1c-\x1f]")
LINES_IN_RECORD = 40
"""How far an open quote is followed before its line alone is called broken."""


class BrokenQuotesError(ValueError):
    """Quotes in a line that do not add up; `open_ended` where a later line may still close them."""

    def __init__(self, open_ended: bool) -> None:
        super().__init__("a quote is not closed" if open_ended else "a quote stands inside an unquoted field")
        self.open_ended = open_ended


def split_fields(text: str, delimiter: str) -> list[str]:
    """Return the fields of one record by RFC 4180; blanks before an opening quote are let pass.

    Raises
    ------
    BrokenQuotesError
        A quote inside an unquoted field, text after a closing quote, or a quote left open.
    """
    if '"' not in text:
        return text.split(delimiter)
    fields, at = [], 0
    while True:
        start = at
        while text.startswith(" ", start):
            start += 1
        if text.startswith('"', start):
            end = _closing_quote(text, start)
            fields.append(text[start + 1 : end].replace('""', '"'))
            at = end + 1
            while text.startswith(" ", at) and not text.startswith(delimiter, at):
                at += 1
            if at < len(text) and not text.startswith(delimiter, at):
                raise BrokenQuotesError(open_ended=False)
        else:
            end = text.find(delimiter, at)
            end = len(text) if end < 0 else end
            if '"' in text[at:end]:
                raise BrokenQuotesError(open_ended=False)
            fields.append(text[at:end])
            at = end
        if at >= len(text):
            return fields
        at += len(delimiter)


def _closing_quote(text: str, start: int) -> int:
    at = start + 1
    while True:
        end = text.find('"', at)
        if end < 0:
            raise BrokenQuotesError(open_ended=True)
        if not text.startswith('"', end + 1):
            return end
        at = end + 2


def physical_lines(pieces: Iterable[bytes]) -> Iterator[bytes]:
    """Yield the lines of a file without their ends, which may be LF, CRLF or CR, even mixed."""
    rest, held = list[bytes](), b""
    for piece in pieces:
        block = held + piece
        held = b"\r" if block.endswith(b"\r") else b""
        first, *lines = block[: len(block) - len(held)].replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n")
        rest.append(first)
        if lines:
            yield b"".join(rest)
            rest = [lines.pop()]
            yield from lines
    last = b"".join(rest)
    if last or held:
        yield last


def decoded(lines: Iterable[bytes], encoding: str, longest: int) -> Iterator[str]:
    """Yield lines as text; one that is too long, badly encoded or holds control characters starts with BAD."""
    for number, line in enumerate(lines):
        if len(line) > 4 * longest:
            yield f"{BAD}the line is longer than {longest} characters{FIELD}"
            continue
        try:
            text = line.decode(encoding)
        except UnicodeDecodeError:
            shown = MARKS.sub("?", line.decode(encoding, errors="replace"))
            yield f"{BAD}the line is not {encoding}{FIELD}{shown}"
            continue
        text = text.removeprefix("\ufeff") if number == 0 else text
        if len(text) > longest:
            yield f"{BAD}the line is longer than {longest} characters{FIELD}"
            continue
        if MARKS.search(text):
            text = f"{BAD}the line holds control characters{FIELD}{MARKS.sub('?', text)}"
        yield text


def records(lines: Iterable[str], delimiter: str, width: int) -> Iterator[str]:
    """Yield one clean line for each line given: fields joined by FIELD, quotes resolved, broken ones marked BAD."""
    waiting = list[str]()
    source = iter(lines)
    while True:
        line = waiting.pop(0) if waiting else next(source, None)
        if line is None:
            return
        if '"' not in line or line.startswith(BAD):
            yield line if line.startswith(BAD) else line.replace(delimiter, FIELD)
            continue
        try:
            yield FIELD.join(split_fields(line, delimiter))
        except BrokenQuotesError as fault:
            taken = _extend(line, waiting, source, delimiter, width) if fault.open_ended else None
            if taken is None:
                yield f"{BAD}{fault}{FIELD}{line}"
            else:
                fields, used = taken
                yield FIELD.join(fields).replace("\n", NEWLINE)
                del waiting[:used]
                yield from [GONE] * used


def _extend(
    line: str, waiting: list[str], source: Iterator[str], delimiter: str, width: int
) -> tuple[list[str], int] | None:
    """Return the fields of a record that runs on over the next lines, and how many; None if none closes it well."""
    text = line
    for used in range(1, LINES_IN_RECORD + 1):
        if len(waiting) < used:
            following = next(source, None)
            if following is None:
                return None
            waiting.append(following)
        if waiting[used - 1].startswith(BAD):
            return None
        text += "\n" + waiting[used - 1]
        try:
            fields = split_fields(text, delimiter)
        except BrokenQuotesError as fault:
            if fault.open_ended:
                continue
            return None
        return (fields, used) if len(fields) == width else None
    return None
