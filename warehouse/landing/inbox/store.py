"""What the inbox was cut into: the home's own pieces, one a night and bay of each original, and a book of them.

It lies in the home's private folder, since the landing folder is never written. Not here: how a file is cut (split.py).
"""

from __future__ import annotations

import datetime as dt
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path, PurePosixPath

TABLES = """
create table if not exists original (
    path text primary key, size integer, modified integer, content text, settings text, fault text, night text,
    bay_id text, passed_over integer, shown text
);
create table if not exists piece (
    path text, night text, bay_id text, file text, content text, fault text, passed_over integer,
    primary key (path, night, bay_id)
);
"""
BOOK, EDITION = "inbox.sqlite", 2
WAIT_SECONDS = 60


@dataclass(frozen=True)
class Original:
    """One file in the inbox, as last cut.

    Attributes
    ----------
    path
        Under landing/inbox.
    fault
        Why nothing of it could be cut.
    shown
        Its path under landing as it may be told: a name that is a student's left out.
    """

    path: str
    size: int
    modified: int
    content: str
    settings: str
    fault: str | None = None
    night: dt.date | None = None
    bay_id: str = ""
    passed_over: int = 0
    shown: str = ""

    @property
    def sign(self) -> str:
        """Return what stands for its name in the paths of its pieces: make, sign and ending."""
        return sign_of(self.path)


def sign_of(path: str) -> str:
    """Return what stands for an original's name in the paths of its pieces: file names may hold people's."""
    ending = "".join(PurePosixPath(path).suffixes[-2:]) if path.endswith(".gz") else PurePosixPath(path).suffix
    return f"{path.split('/', maxsplit=1)[0]}/{sha256(path.encode()).hexdigest()[:8]}{ending}"


@dataclass(frozen=True)
class Piece:
    """One night and bay of an original; `file` is its table under the store, `content` tells equal rows.

    `fault` says why its rows cannot be loaded, whatever they say: their bay is not known.
    """

    path: str
    night: dt.date
    bay_id: str
    file: str
    content: str
    fault: str | None = None
    passed_over: int = 0


def folder_of(landing: Path) -> Path:
    """Return where the pieces of a landing folder's inbox lie: in the home, beside it."""
    return landing.parent / "warehouse" / "inbox"


@contextmanager
def opened(folder: Path) -> Iterator[sqlite3.Connection]:
    """Open the book of a store, made if need be; committed at the end."""
    folder.mkdir(parents=True, exist_ok=True)
    with closing(sqlite3.connect(folder / BOOK, timeout=WAIT_SECONDS)) as book, book:
        if book.execute("pragma user_version").fetchone() != (EDITION,):
            # Another version's book: every file is cut again, and pieces with the same rows are the same files.
            book.executescript(f"drop table if exists original; drop table if exists piece; {TABLES}")
            book.execute(f"pragma user_version = {EDITION}")
        yield book


def originals(folder: Path) -> dict[str, Original]:
    """Return every original that was cut, by its path."""
    if not (folder / BOOK).exists():
        return {}
    with opened(folder) as book:
        rows = book.execute(
            "select path, size, modified, content, settings, fault, night, bay_id, passed_over, shown from original"
        ).fetchall()
    return {row[0]: Original(*row[:6], _date(row[6]), *row[7:]) for row in rows}


def pieces(folder: Path, night: dt.date | None = None) -> list[Piece]:
    """Return the pieces of every original, or of one night."""
    if not (folder / BOOK).exists():
        return []
    with opened(folder) as book:
        rows = book.execute(
            "select path, night, bay_id, file, content, fault, passed_over from piece "
            "where ?1 is null or night = ?1 order by night, bay_id, path",
            [night and night.isoformat()],
        ).fetchall()
    return [Piece(row[0], dt.date.fromisoformat(row[1]), *row[2:]) for row in rows]


def remember(folder: Path, original: Original, cut: Sequence[Piece]) -> None:
    """Write an original and its pieces down, in place of what was known of it; files that no piece names go."""
    with opened(folder) as book:
        before = {row[0] for row in book.execute("select file from piece where path = ?", [original.path])}
        book.execute("delete from piece where path = ?", [original.path])
        book.execute(
            "insert or replace into original values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            [
                original.path, original.size, original.modified, original.content, original.settings, original.fault,
                original.night and original.night.isoformat(), original.bay_id, original.passed_over, original.shown,
            ],
        )  # fmt: skip
        book.executemany(
            "insert into piece values (?, ?, ?, ?, ?, ?, ?)",
            [(one.path, one.night.isoformat(), one.bay_id, one.file, one.content, one.fault, one.passed_over)
             for one in cut],
        )  # fmt: skip
    for file in before - {one.file for one in cut}:
        (folder / file).unlink(missing_ok=True)


def restate(folder: Path, path: str, size: int, modified: int) -> None:
    """Write down that an original's file has another size or time of change and the same content."""
    with opened(folder) as book:
        book.execute("update original set size = ?, modified = ? where path = ?", [size, modified, path])


def _date(text: str | None) -> dt.date | None:
    return None if text is None else dt.date.fromisoformat(text)
