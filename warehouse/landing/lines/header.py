"""An export's header: where it stands, what it names, and whether the profile's columns are there.

Not here: the rows under it.
"""

from __future__ import annotations

import csv
import io
import unicodedata
from dataclasses import dataclass
from difflib import get_close_matches

from warehouse.landing.profile.profile import Profile

USUAL_DELIMITERS = (",", ";", "\t", "|")
LONGEST_SHOWN = 60
LINES_TRIED = 100
"""How far below the skipped rows a header is looked for."""


@dataclass(frozen=True)
class Header:
    """Names in their order, and the physical line on which the header ends (0: the format has none)."""

    names: tuple[str, ...]
    line: int = 0


class HeaderError(ValueError):
    """A file whose header cannot serve; the message says what to do."""


def plain(name: str) -> str:
    """Return a header as it is compared: composed accents, no blanks around."""
    return unicodedata.normalize("NFC", name).strip()


def parse(text: str, delimiter: str, skip_rows: int) -> Header | None:
    """Return the header from a file's first lines; None where the file ends before one.

    Blank lines between the skipped rows and the header are passed over.
    """
    lines = io.StringIO(text, newline=None).read().split("\n", skip_rows + LINES_TRIED)
    at = skip_rows
    while at < len(lines) and not lines[at].strip():
        at += 1
    if at >= len(lines):
        return None
    if len(delimiter) > 1 or '"' not in lines[at]:
        return Header(tuple(plain(name) for name in lines[at].split(delimiter)), at + 1)
    reader = csv.reader((line + "\n" for line in lines[at:]), delimiter=delimiter)
    names = next(reader)
    return Header(tuple(plain(name.replace("\n", " ")) for name in names), at + reader.line_num)


def positions(header: Header, profile: Profile) -> dict[str, int]:
    """Return canonical name -> place in the header (from 0), for the mapped columns that are there."""
    places = {name: place for place, name in reversed(list(enumerate(header.names)))}
    return {
        name: places[plain(source.source)] for name, source in profile.columns.items() if plain(source.source) in places
    }


def check(header: Header, profile: Profile, shown: str) -> list[str]:
    """Return warnings about a header (mapped columns that are absent and may be).

    Raises
    ------
    HeaderError
        A required column is absent, or a mapped name stands twice.
    """
    found = positions(header, profile)
    wanted = {name: plain(source.source) for name, source in profile.columns.items()}
    missing = [wanted[name] for name in profile.needed if name not in found]
    if missing:
        raise HeaderError(_missing_in_words(missing, header, profile, shown))
    twice = sorted({name for name in wanted.values() if header.names.count(name) > 1})
    if twice:
        raise HeaderError(f"the header names {_list(twice)} twice, so it is not clear which to read; see {shown}")
    return [
        f"no column '{wanted[name]}' in the header, so {name} is empty; see {shown}"
        for name, source in profile.columns.items()
        if name not in found and not source.optional
    ]


def _missing_in_words(missing: list[str], header: Header, profile: Profile, shown: str) -> str:
    columns = "one column" if len(header.names) == 1 else f"{len(header.names):,} columns"
    short = [name for name in header.names if len(name) <= LONGEST_SHOWN]
    near = [found for name in missing for found in get_close_matches(name, short, 1)]
    said = f"no column {_list(missing)} in the header ({columns}{f', nearest: {_list(near)}' if near else ''})"
    return f"{said}: {_remedy(header, profile)}; see {shown}"


def _remedy(header: Header, profile: Profile) -> str:
    shape = profile.file
    if shape.format != "csv":
        return "are the names in the profile right?"
    if any("\ufffd" in name for name in header.names):
        return f'the header is not {shape.encoding}; is encoding = "{shape.encoding}" right?'
    joined = shape.delimiter.join(header.names)
    wanted = plain(profile.columns["struck_at"].source)
    for other in USUAL_DELIMITERS:
        if other != shape.delimiter and wanted in [plain(name) for name in joined.split(other)]:
            return f"is the delimiter {shape.delimiter!r} right? the header splits at {other!r}"
    if len(header.names) == 1:
        return f"is the delimiter {shape.delimiter!r} right, and skip_rows = {shape.skip_rows}?"
    return f"are the names in the profile, its delimiter {shape.delimiter!r} and skip_rows = {shape.skip_rows} right?"


def _list(names: list[str]) -> str:
    return ", ".join(f"'{name}'" for name in names)
