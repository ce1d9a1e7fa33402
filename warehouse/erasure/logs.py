"""Takes a person's id and name out of what runs wrote down: log, Dagster's history, what became of the last run.

What killed runs left behind is deleted. Not here: databases (forget.py), the notebook (forget_notebook.py).
"""

from __future__ import annotations

import json
import os
import re
import shutil
import sqlite3
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import Any

from warehouse.home import Home
from warehouse.privacy.names import KnownNames

GONE = "(removed)"
WHEN = re.compile(r"\d{4}-\d\d-\d\d(?:[T ][\d:.,+Z-]*)?")
"""A date or a moment: it names nobody, though an id may be a number."""
BUSY_SECONDS = 30


def forms(words: Iterable[str]) -> list[str]:
    """Return the words as text and as JSON writes them, the longest first."""
    told = {form for word in words for form in (word, json.dumps(word)[1:-1])}
    return sorted(told, key=len, reverse=True)


class Mentioned:
    """A person's id and names, found in texts: as they are written, and names in whatever case, accents or order.

    Parameters
    ----------
    words
        The id and the names.
    """

    def __init__(self, words: Iterable[str]) -> None:
        given = sorted(words)
        told = "|".join(re.escape(form) for form in forms(given))
        self._written = re.compile(rf"(?<![0-9A-Za-z])(?:{told})(?![0-9A-Za-z])")
        self.names = KnownNames(given)

    def search(self, text: str) -> bool:
        """Return whether a text mentions the person."""
        return bool(self._written.search(text)) or self.names.holds(text)

    def sub(self, text: str) -> str:
        """Return a text with the person blanked."""
        return self.names.mask(self._written.sub(GONE, text), GONE)


def pattern(words: Iterable[str]) -> Mentioned:
    """Return what finds a person by id and names."""
    return Mentioned(words)


def standing_alone(words: Iterable[str]) -> str:
    """Return the same for engines that cannot look behind, which also take the letter before and after."""
    told = "|".join(re.escape(word) for word in sorted(words, key=len, reverse=True))
    return rf"(^|[^0-9A-Za-z])(?:{told})($|[^0-9A-Za-z])"


def blanked(named: Mentioned, held: str) -> str:
    """Return a text with the words blanked; a date stays, and of JSON only strings change: an id may be a number."""
    if not named.search(held) or WHEN.fullmatch(held):
        return held
    if held.lstrip()[:1] in ("{", "["):
        with suppress(ValueError):
            told = json.loads(held)
            left = _strings_blanked(named, told)
            return held if left == told else json.dumps(left, ensure_ascii=held.isascii())
    return named.sub(held)


def _strings_blanked(named: Mentioned, value: Any) -> Any:
    if isinstance(value, str):
        return blanked(named, value)
    if isinstance(value, list):
        return [_strings_blanked(named, one) for one in value]
    if isinstance(value, dict):
        return {blanked(named, key): _strings_blanked(named, one) for key, one in value.items()}
    return value


def forget_logs(home: Home, words: Iterable[str]) -> list[str]:
    """Blank the words in logs and run histories and delete leftovers that hold them; return what was done."""
    named = pattern(words)
    said = [f"{path.relative_to(home.path)}: deleted, a run's leftover" for path in _leftovers(home)]
    texts = [path for path in (*sorted((home.private / "log").glob("*")), home.last_run) if path.is_file()]
    said += [f"{path.relative_to(home.path)}: blanked" for path in texts if _blank_text(path, named)]
    for path in sorted((home.private / "dagster").rglob("*.db")):
        if count := _blank_sqlite(path, named):
            said.append(f"{path.relative_to(home.path)}: blanked in {count} rows")
    review = home.path / "review.html"
    if review.exists() and named.search(review.read_text("utf-8", errors="replace")):
        review.unlink()
        said.append("review.html: deleted, `academy review` writes it again")
    return said


def _leftovers(home: Home) -> list[Path]:
    """Delete what killed runs left, which may hold anybody, and return it."""
    scratch = home.private / "scratch"
    gone = [*(scratch.iterdir() if scratch.is_dir() else ()), *home.private.glob("*.tmp")]
    gone += home.published.glob("*.incoming*")
    for path in gone:
        if path.is_dir():
            shutil.rmtree(path)
        else:
            path.unlink()
    return gone


def _blank_text(path: Path, named: Mentioned) -> bool:
    """Write a text file anew with the words blanked; False where it has none of them."""
    before = path.read_text("utf-8", errors="surrogateescape")
    after = "".join(blanked(named, line) for line in _parts(before))
    if after == before:
        return False
    new = path.with_name(f".{path.name}.tmp")
    new.write_text(after, "utf-8", errors="surrogateescape")
    os.replace(new, path)
    return True


def _parts(text: str) -> list[str]:
    """Return a JSON document whole, and anything else, such as a log, in lines and what ends them."""
    with suppress(ValueError):
        json.loads(text)
        return [text]
    return re.split(r"(\r?\n)", text)


def sqlite_tables(opened: sqlite3.Connection) -> list[str]:
    """Return a SQLite database's own tables, quoted."""
    names = [row[0] for row in opened.execute("select name from sqlite_master where type = 'table'").fetchall()]
    return [f'"{name}"' for name in names if not name.startswith("sqlite_")]


def _blank_sqlite(path: Path, named: Mentioned) -> int:
    """Blank the words in every text of a SQLite database, and write it anew; return how many rows had them.

    Raises
    ------
    RuntimeError
        The database is in use; the message says what to do.
    """
    opened = sqlite3.connect(path, timeout=BUSY_SECONDS, isolation_level=None)
    try:
        opened.create_function("mentions", 1, lambda held: isinstance(held, str) and blanked(named, held) != held)
        opened.create_function("blanked", 1, lambda held: blanked(named, held))
        count = 0
        for table in sqlite_tables(opened):
            for column in [f'"{row[1]}"' for row in opened.execute(f"pragma table_info({table})")]:
                count += opened.execute(
                    f"update {table} set {column} = blanked({column}) where mentions({column})"
                ).rowcount
        if count:
            opened.execute("vacuum")
        opened.execute("pragma wal_checkpoint(truncate)")
        return count
    except sqlite3.OperationalError as fault:
        raise RuntimeError(f"{path} is in use ({fault}): stop `academy serve` and try again") from fault
    finally:
        opened.close()
