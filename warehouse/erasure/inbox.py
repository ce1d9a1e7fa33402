"""A person taken out of the inbox: of the pieces it was cut into and, if asked, of the files themselves.

A text file is written anew without the person's lines; a workbook or nested JSON is named, to be corrected where it is
made. Not here: landing/shots and the academy's tables (landing.py).
"""

from __future__ import annotations

import gzip
import os
import re
from pathlib import Path

import polars as pl

from warehouse.home import Home
from warehouse.landing.cells.outside import Origin
from warehouse.landing.cells.people import Students
from warehouse.landing.cells.read import Context, read_cells
from warehouse.landing.cells.text_grid import detected, read_bytes
from warehouse.landing.inbox import split, store
from warehouse.landing.lines.byte_scan import RefusedError
from warehouse.landing.onboarding.duplicate_people import normal_name
from warehouse.landing.profile.bay_profiles import converters_of, read_profile, students_landed
from warehouse.landing.profile.file_shape import DETECT
from warehouse.landing.profile.profile import Profile
from warehouse.settings.settings import Limits

ENDS = re.compile("(\r\n|\r|\n)")
LINE_BY_LINE = ("csv", "jsonl")


def forget_in_inbox(home: Home, student_id: str, names: set[str], *, rewrite_landing: bool) -> list[str]:
    """Take a student out of the inbox; return what was done and what is left to do, a line each.

    The students' own table still holds the person: files that name players by name are read by it.
    """
    said, folder = list[str](), store.folder_of(home.landing)
    touched: dict[str, int] = {}
    for piece in store.pieces(folder):
        taken = _rewrite_piece(folder, piece, student_id)
        if taken:
            touched[piece.path] = touched.get(piece.path, 0) + taken
    students = students_landed(home.landing)
    for path, rows in sorted(touched.items()):
        original = home.landing / "inbox" / path
        said.append(f"warehouse/inbox: {rows} rows of inbox/{path} taken out")
        if not original.is_file():
            continue
        if not rewrite_landing:
            said.append(f"landing/inbox/{path} still holds them: the next change of it brings them back unless it is "
                        "rewritten")  # fmt: skip
            continue
        said.append(f"landing/inbox/{path}: {_rewrite_original(home, original, path, student_id, names, students)}")
    return said


def _rewrite_piece(folder: Path, piece: store.Piece, student_id: str) -> int:
    """Write a piece anew without a student's rows, and its content down; return how many there were."""
    file = folder / piece.file
    if not file.is_file():
        return 0
    rows = pl.read_parquet(file)
    if "student_id" not in rows.columns:
        return 0
    kept = rows.filter(pl.col("student_id").ne_missing(student_id))
    if kept.height == rows.height:
        return 0
    new = file.with_name(f".{file.name}.tmp")
    kept.write_parquet(new)
    os.replace(new, file)
    with store.opened(folder) as book:
        book.execute("update piece set content = ? where file = ?", [split.content_of(kept), piece.file])
    return rows.height - kept.height


def _rewrite_original(
    home: Home, original: Path, path: str, student_id: str, names: set[str], students: Students
) -> str:
    profile, _ = read_profile(path.split("/", maxsplit=1)[0], home.landing)
    by_hand = "still holds them: take them out where it is made, and put the new file in its place"
    if profile is None or profile.file.format not in LINE_BY_LINE or profile.file.rows_at not in (None, "."):
        return by_hand
    packed = original.read_bytes()[:2] == b"\x1f\x8b"
    context = Context(Limits(), students, converters_of(home.landing))
    origin = Origin(original.name, "/".join(path.split("/")[1:-1]), inbox=True)
    try:
        frame = read_cells(original, packed, profile, origin, context, path).frame
        if "student_id" not in frame.columns:
            return by_hand
        theirs = set(frame.filter(pl.col("student_id") == student_id)["line"])
        others = set(frame["line"]) - theirs
        return _without(original, packed, profile, theirs, others, {student_id, *names})
    except (RefusedError, UnicodeError, OSError):
        return by_hand


def _without(
    original: Path, packed: bool, profile: Profile, theirs: set[int], others: set[int], words: set[str]
) -> str:
    """Write a text file anew without lines of the student, and without lines outside its rows that name them."""
    data = read_bytes(original, packed)
    encoding = detected(data) if profile.file.encoding == DETECT else profile.file.encoding
    parts = ENDS.split(data.decode(encoding))
    named = [set(normal_name(word).split()) for word in words]
    kept, gone = list[str](), 0
    for number, (line, end) in enumerate(zip(parts[::2], [*parts[1::2], ""], strict=True), start=1):
        if number in theirs or (number not in others and _names(line, named)):
            gone += 1
        else:
            kept.append(line + end)
    text = "".join(kept).encode(encoding)
    new = original.with_name(f".{original.name}.tmp")
    new.write_bytes(gzip.compress(text) if packed else text)
    os.replace(new, original)
    return f"{gone} rows taken out"


def _names(line: str, named: list[set[str]]) -> bool:
    """Return whether a line holds an id or all parts of a name, in whatever order."""
    words = set(normal_name(line).split())
    return any(parts and parts <= words for parts in named)
