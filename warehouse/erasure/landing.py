"""Which files hold a person's id, and landing files written anew without the rows that name the person."""

from __future__ import annotations

import csv
import gzip
import io
import json
import os
import re
import secrets
import sqlite3
import tomllib
import zipfile
from collections.abc import Callable
from contextlib import closing
from hashlib import sha256
from pathlib import Path
from typing import Any

import polars as pl

from warehouse.erasure.logs import pattern, sqlite_tables, standing_alone
from warehouse.home import Home
from warehouse.privacy.names import KnownNames

MEBIBYTE = 1 << 20
BOOKS = (".xlsx", ".xlsm", ".xlsb", ".ods")


def mentions(folder: Path, *words: str) -> list[Path]:
    """Return the files under a folder in which an id or a name stands alone; packed text and Parquet are opened."""
    if not folder.is_dir():
        return []
    forms = {form for word in words for form in _written(word)}
    told = b"|".join(re.escape(form) for form in sorted(forms, key=len, reverse=True))
    word = re.compile(rb"(?<![0-9A-Za-z])(?:" + told + rb")(?![0-9A-Za-z])")
    names = KnownNames(words)
    files = (path for path in sorted(folder.rglob("*")) if path.is_file() and not path.is_symlink())
    return [path for path in files if _holds(path, word, words, names, max(map(len, forms)) + 2)]


def files_named_after(home: Home, names: set[str], *, rename: bool) -> list[str]:
    """Name the landing folder's files and folders that are named after a person, or rename them; say what was done."""
    known, said = KnownNames(names), []
    found = [path for path in home.landing.rglob("*") if known.holds(path.name)] if names else []
    for path in sorted(found, key=lambda path: len(path.parts), reverse=True):
        place = path.relative_to(home.path)
        if rename:
            digest = sha256(path.name.encode("utf-8", "surrogateescape") + secrets.token_bytes(16)).hexdigest()[:8]
            path.rename(path.with_name(known.mask(path.name, f"removed-{digest}")))
        said.append(f"{place}: {'renamed' if rename else 'is named after them: rename it, or delete it'}")
    return said


def _written(word: str) -> set[bytes]:
    """Return a word as files may write it: in UTF-8, as JSON, and in the encodings of old devices."""
    told = {word.encode(), json.dumps(word)[1:-1].encode(), word.encode("utf-16-le")}
    try:
        return {*told, word.encode("latin-1")}
    except UnicodeEncodeError:
        return told


def holding(landing: Path, student_id: str) -> list[Path]:
    """Return the landing files that hold the id or the student's lessons; the drill log first: lessons explain it."""
    log = landing / "academy" / "drill_log.csv"
    lessons = _lessons(landing, student_id)
    theirs = log.exists() and any(row.get("lesson_id") in lessons for row in rows_of(log))
    return ([log] if theirs else []) + [path for path in mentions(landing, student_id) if path != log]


def _holds(path: Path, word: re.Pattern[bytes], words: tuple[str, ...], names: KnownNames, longest: int) -> bool:
    if path.suffix == ".parquet":
        texts = pl.scan_parquet(path).select(pl.col(pl.String))
        named = pl.any_horizontal(pl.all().str.contains(standing_alone(words)))
        return bool(texts.select(named.any()).collect().item() or False)
    if path.suffix in BOOKS and _holds_zipped(path, word):
        return True
    if _is_sqlite(path) and _holds_sqlite(path, words):
        return True
    with gzip.open(path) if path.suffix == ".gz" else path.open("rb") as file:
        before = b""
        try:
            while part := file.read(MEBIBYTE):
                if word.search(before + part) or names.holds_in_long((before + part).decode("utf-8", "replace")):
                    return True
                before = (before + part)[-longest:]
        except (OSError, EOFError):
            return False  # a broken export is refused by the night as well
    return False


def _holds_zipped(path: Path, word: re.Pattern[bytes]) -> bool:
    """Look into a workbook, whose parts are packed one by one."""
    try:
        with zipfile.ZipFile(path) as book:
            return any(word.search(book.read(part)) for part in book.namelist())
    except (OSError, zipfile.BadZipFile, RuntimeError):
        return False


def _is_sqlite(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return file.read(16) == b"SQLite format 3\x00"
    except OSError:
        return False


def _holds_sqlite(path: Path, words: tuple[str, ...]) -> bool:
    """Look into a SQLite file: values lie side by side in it, so that its bytes alone do not tell where one ends."""
    named = pattern(words)
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as opened:
            for table in sqlite_tables(opened):
                for row in opened.execute(f"select * from {table}"):
                    if any(isinstance(held, str) and named.search(held) for held in row):
                        return True
    except sqlite3.Error:
        return True  # what cannot be searched may hold anybody
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


def rows_of(path: Path) -> list[dict[str, str]]:
    """Return the rows of one of the academy's tables; none where it is not there."""
    if not path.exists():
        return []
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def _lessons(landing: Path, student_id: str) -> set[str]:
    rows = rows_of(landing / "academy" / "lessons.csv")
    return {row["lesson_id"] for row in rows if row.get("student_id") == student_id}


def _profile(landing: Path, export: Path) -> dict[str, Any] | None:
    """Return the profile by which an export is read, or None where its bay or profile is not known."""
    names = {row["bay_id"]: row["export_profile"] for row in rows_of(landing / "academy" / "bays.csv")}
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
