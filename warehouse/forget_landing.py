"""Which files hold a person's id, and landing files written anew without the rows that name the person."""

from __future__ import annotations

import csv
import gzip
import io
import json
import os
import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import polars as pl

MEBIBYTE = 1 << 20


def mentions(folder: Path, student_id: str) -> list[Path]:
    """Return the files under a folder in which the id stands as a word; packed text and Parquet are opened."""
    if not folder.is_dir():
        return []
    word = re.compile(rb"(?<![0-9A-Za-z])" + re.escape(student_id.encode()) + rb"(?![0-9A-Za-z])")
    files = (path for path in sorted(folder.rglob("*")) if path.is_file() and not path.is_symlink())
    return [path for path in files if _holds(path, word, student_id)]


def holding(landing: Path, student_id: str) -> list[Path]:
    """Return the landing files that hold the id or the student's lessons; the drill log first: lessons explain it."""
    log = landing / "academy" / "drill_log.csv"
    lessons = _lessons(landing, student_id)
    theirs = log.exists() and any(row.get("lesson_id") in lessons for row in _rows(log))
    return ([log] if theirs else []) + [path for path in mentions(landing, student_id) if path != log]


def _holds(path: Path, word: re.Pattern[bytes], student_id: str) -> bool:
    if path.suffix == ".parquet":
        texts = pl.scan_parquet(path).select(pl.col(pl.String))
        return bool(texts.select(pl.any_horizontal(pl.all() == student_id).any()).collect().item() or False)
    with gzip.open(path) if path.suffix == ".gz" else path.open("rb") as file:
        before = b""
        try:
            while part := file.read(MEBIBYTE):
                if word.search(before + part):
                    return True
                before = (before + part)[-len(student_id.encode()) - 2 :]
        except (OSError, EOFError):
            return False  # a broken export is refused by the night as well
    return False


def rewrite(landing: Path, path: Path, student_id: str) -> str:
    """Write a landing file anew without the rows that name the student, and say what was done.

    A table of the academy is known by its columns; an export by its bay's profile. Where neither says in which column
    the student stands, the file is left and named.
    """
    where = path.relative_to(landing).parts
    if where[0] == "academy":
        return _rewrite_text(path, {}, _academy_rule(path, student_id, _lessons(landing, student_id)))
    profile = _profile(landing, path) if where[0] == "shots" else None
    column = ((profile or {}).get("columns", {}).get("student_id") or {}).get("from")
    if profile is None or column is None:
        return "still holds the id, and no profile says in which column: edit it by hand"
    if path.suffix == ".parquet":
        rows = pl.read_parquet(path)
        kept = rows.filter(pl.col(column).cast(pl.String).ne_missing(student_id))
        _replace(path, kept.write_parquet)
        return f"{rows.height - kept.height} rows taken out"
    if path.name.removesuffix(".gz").endswith(".jsonl"):
        return _rewrite_lines(path, "utf-8", lambda line: str(json.loads(line).get(column)) == student_id)
    return _rewrite_text(path, profile.get("file", {}), lambda row: row.get(column) == student_id)


def _academy_rule(path: Path, student_id: str, lessons: set[str]) -> Callable[[dict[str, str]], bool]:
    """Return whether a row of an academy's table is the student's."""
    if path.stem == "events":
        return lambda row: row.get("scope") == "student" and row.get("id") == student_id
    if path.stem == "drill_log":
        return lambda row: row.get("lesson_id") in lessons
    return lambda row: row.get("student_id") == student_id


def _rows(path: Path) -> list[dict[str, str]]:
    """Return the rows of one of the academy's tables; none where it is not there."""
    if not path.exists():
        return []
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def _lessons(landing: Path, student_id: str) -> set[str]:
    rows = _rows(landing / "academy" / "lessons.csv")
    return {row["lesson_id"] for row in rows if row.get("student_id") == student_id}


def _profile(landing: Path, export: Path) -> dict[str, Any] | None:
    """Return the profile by which an export is read, or None where its bay or profile is not known."""
    names = {row["bay_id"]: row["export_profile"] for row in _rows(landing / "academy" / "bays.csv")}
    profile = landing / "profiles" / f"{names.get(export.name.split('.')[0])}.toml"
    return tomllib.loads(profile.read_text("utf-8")) if profile.exists() else None


def _rewrite_text(path: Path, layout: dict[str, Any], theirs: Callable[[dict[str, str]], bool]) -> str:
    """Rewrite a delimited file, its other lines to the letter."""
    delimiter = layout.get("delimiter", "\t" if ".tsv" in path.name else ",")
    header: list[str] = []
    skip = int(layout.get("skip_rows", 0))

    def judged(line: str) -> bool:
        nonlocal skip
        if skip:
            skip -= 1
            return False
        cells = next(csv.reader([line], delimiter=delimiter), [])
        if not header:
            header.extend(cell.strip().removeprefix("\ufeff") for cell in cells)
            return False
        return theirs(dict(zip(header, cells, strict=False)))

    return _rewrite_lines(path, layout.get("encoding", "utf-8"), judged)


def _rewrite_lines(path: Path, encoding: str, theirs: Callable[[str], bool]) -> str:
    packed = path.suffix == ".gz"
    raw = gzip.decompress(path.read_bytes()) if packed else path.read_bytes()
    lines = io.StringIO(raw.decode(encoding), newline="").readlines()
    kept = [line for line in lines if not line.strip() or not theirs(line.rstrip("\r\n"))]
    text = "".join(kept).encode(encoding)
    _replace(path, lambda new: new.write_bytes(gzip.compress(text) if packed else text))
    return f"{len(lines) - len(kept)} rows taken out"


def _replace(path: Path, write: Callable[[Path], Any]) -> None:
    """Put a new file in the place of an old one in one rename."""
    new = path.with_name(f".{path.name}.tmp")
    write(new)
    os.replace(new, path)
