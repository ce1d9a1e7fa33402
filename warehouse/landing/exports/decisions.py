"""The book of what people decided about exports: taken all the same, or taken back. One line each, in the home.

A decision is about one content of one file, so that the next delivery is judged anew; of two the later counts.
Not here: what follows from a decision (judge.py, exports.py).
"""

from __future__ import annotations

import csv
import os
from collections.abc import Iterator
from dataclasses import astuple, dataclass, field, fields
from datetime import UTC, datetime
from pathlib import Path

import duckdb

from warehouse.landing.path_safety import misplaced
from warehouse.landing.profile.bay_profiles import content_hash

BOOK = "export_decisions.csv"
TAKE, WITHDRAW = "take", "withdraw"


class DecisionFault(ValueError):
    """A decision that cannot be noted, or a book that cannot be read; the message says what to do."""


@dataclass(frozen=True)
class Decision:
    """One line of the book; `path` is under landing/shots."""

    decided_at: str
    path: str
    content_hash: str
    decision: str
    note: str = ""


COLUMNS = tuple(column.name for column in fields(Decision))


@dataclass
class Decisions:
    """The book as it stands, the oldest line first."""

    lines: list[Decision] = field(default_factory=list)

    def __iter__(self) -> Iterator[Decision]:
        """Iterate over the lines, the oldest first."""
        return iter(self.lines)

    def of(self, path: str, content_hash: str) -> Decision | None:
        """Return what was decided last about a content of a file, if anything was."""
        found = (line for line in reversed(self.lines) if (line.path, line.content_hash) == (path, content_hash))
        return next(found, None)

    def word(self, path: str, content_hash: str | None) -> str:
        """Return take, withdraw or nothing."""
        found = self.of(path, content_hash or "")
        return found.decision if found else ""


def place(landing: Path) -> Path:
    """Return where the book lies: beside the landing folder, which is never written."""
    return landing.parent / BOOK


def read(landing: Path) -> Decisions:
    """Read the book; empty where there is none.

    Raises
    ------
    DecisionFault
        It is there and cannot be read: a decision must not be lost in silence.
    """
    path = place(landing)
    if not path.exists():
        return Decisions()
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.DictReader(file))
    except (OSError, UnicodeDecodeError, csv.Error) as fault:
        raise DecisionFault(f"{path} cannot be read ({fault}): correct it, or take it back from a backup") from fault
    made = []
    for number, row in enumerate(rows, start=2):
        try:
            line = Decision(*(row[name].strip() for name in COLUMNS))
            datetime.fromisoformat(line.decided_at)
        except (KeyError, AttributeError, ValueError):
            raise DecisionFault(
                f"{path}, line {number}: {', '.join(COLUMNS)} are expected, decided_at as 2024-02-19T08:00:00; "
                "correct the line"
            ) from None
        if line.decision not in (TAKE, WITHDRAW):
            raise DecisionFault(f"{path}, line {number}, decision: it is {TAKE} or {WITHDRAW}: correct it")
        made.append(line)
    return Decisions(made)


def add(landing: Path, path: str, content_hash: str, decision: str, note: str = "") -> Decision:
    """Add a line to the book, on disk before this returns."""
    read(landing)
    line = Decision(datetime.now(UTC).replace(tzinfo=None).isoformat(timespec="seconds"), path, content_hash, decision,
                    " ".join(note.split()))  # fmt: skip
    book = place(landing)
    begun = book.exists()
    with book.open("a", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        if not begun:
            writer.writerow(COLUMNS)
        writer.writerow(astuple(line))
        file.flush()
        os.fsync(file.fileno())
    return line


def load(con: duckdb.DuckDBPyConnection, book: Decisions) -> None:
    """Fill raw.export_decision with the book."""
    con.execute("delete from raw.export_decision")
    if book.lines:
        con.executemany(
            "insert into raw.export_decision values (?, ?, ?, ?, ?, ?)",
            [
                [number, line.decided_at, line.path, line.content_hash, line.decision, line.note or None]
                for number, line in enumerate(book, start=1)
            ],
        )


def contents(landing: Path, raw: Path, said: str) -> list[tuple[str, str]]:
    """Return (path, content) of the exports that a person names, as they lie there and as they are in force.

    Parameters
    ----------
    landing
        The landing folder.
    raw
        The private database of what was read; it may not be there.
    said
        A path under landing/shots, or under landing/inbox: all nights and bays of that file.

    Raises
    ------
    DecisionFault
        No export is known by it.
    """
    wanted = said.removeprefix(f"{landing}/").removeprefix("landing/").removeprefix("shots/")
    found: list[tuple[str, str]] = []
    file = landing / "shots" / wanted
    if "/" in wanted and misplaced(file, landing / "shots") is None and file.is_file():
        found.append((wanted, content_hash(file)))
    if raw.exists():
        with duckdb.connect(str(raw), read_only=True) as con:
            found += con.execute(
                "select path, content_hash from export_file where path = $1 or ends_with(path, '/' || $1) "
                "and starts_with($1, 'inbox/') order by all",
                [wanted],
            ).fetchall()
    if not found:
        raise DecisionFault(
            f"no export is known by {said!r}: give its path under landing/shots, such as 2024-02-19/B01.csv"
        )
    return list(dict.fromkeys(found))
