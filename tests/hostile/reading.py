"""Every text of a home read for names, by spellings of its own: neither the program's folding nor its list of names."""

from __future__ import annotations

import re
import sqlite3
import unicodedata
from collections.abc import Iterator
from contextlib import closing
from itertools import permutations
from pathlib import Path
from urllib.parse import unquote

import duckdb

LETTERS = str.maketrans({"ø": "o", "ł": "l", "ß": "ss"})


def plain(text: str) -> str:
    """Return a text's letters alone, lower case, without accents."""
    text = unicodedata.normalize("NFKD", unquote(text)).casefold().translate(LETTERS)
    return "".join(letter for letter in text if letter.isalpha())


def spellings(name: str) -> set[str]:
    """Return a name as it would stand among a text's letters alone, in every order, umlauts spelled out too."""
    spelled = name.casefold().replace("ö", "oe").replace("ü", "ue").replace("ä", "ae")
    return {plain("".join(order)) for said in (name, spelled) for order in permutations(said.split())}


def names_in(text: str, names: tuple[str, ...]) -> set[str]:
    """Return the names that stand in a text."""
    letters = plain(text)
    return {name for name in names if any(spelling in letters for spelling in spellings(name))}


def cells(path: Path) -> Iterator[tuple[str, str]]:
    """Yield every text of a database file, with its table and column."""
    with path.open("rb") as file:
        lite = file.read(15) == b"SQLite format 3"
    if lite:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as opened:
            for (table,) in opened.execute("select name from sqlite_master where type = 'table'").fetchall():
                for row in opened.execute(f'select * from "{table}"'):
                    yield from ((f"{table}", held) for held in row if isinstance(held, str))
        return
    with duckdb.connect(path, read_only=True) as opened:
        for schema, table, column in opened.execute(
            "select schema_name, table_name, column_name from duckdb_columns() "
            "where not internal and data_type = 'VARCHAR'"
        ).fetchall():
            asked = f'select distinct "{column}" from "{schema}"."{table}" where "{column}" is not null'
            yield from ((f"{schema}.{table}.{column}", text) for (text,) in opened.execute(asked).fetchall())


def bytes_hold(path: Path, names: tuple[str, ...]) -> set[str]:
    """Return the names whose words follow each other in a file's bytes, whatever the file is."""
    held = path.read_bytes()
    found = set()
    for name in names:
        for order in permutations(name.split()):
            for encoding in ("utf-8", "latin-1", "utf-16-le"):
                try:
                    written = rb"[\x00-\x40]{1,6}".join(re.escape(word.encode(encoding)) for word in order)
                except UnicodeEncodeError:
                    continue
                if re.search(written, held, re.IGNORECASE):
                    found.add(name)
    return found
