"""The check of consent: no text that is about to be published holds a name that may not stand there.

Words may hold nobody's name; ids and what tables are joined by, none of people who are shown nowhere. Every declared
column that can hold one is looked at whole, each text once. Not here: masking (masking.py), which leaves nothing to
find.
"""

from __future__ import annotations

from dataclasses import dataclass

import duckdb

from warehouse.privacy.masking import people_beside
from warehouse.privacy.names import KnownNames
from warehouse.privacy.people import People
from warehouse.schema.declaration import KEY, NAME, PERSON, WORDS, Table
from warehouse.schema.registry import TABLES

REMEDY = {
    WORDS: "run `academy nightly --rebuild`; if it stays, the program is at fault",
    KEY: "give what it names (a bay, a site, a drill, a cohort) another id in landing/academy",
    PERSON: "give students ids that are not their names",
    NAME: "run `academy nightly --rebuild`; if it stays, the program is at fault",
}
LIKE_A_NAME = r"\p{L}{2,}[^\p{L}]+\p{L}{2,}|\p{L}{6,}|[^\x00-\x7f]"
"""What an id must have to be looked at in full: two words, a long one, or letters beyond ASCII."""
OWN_WORDS = r"practice |-free$"
"""What this program puts into ids itself."""


@dataclass(frozen=True)
class Found:
    """A column in which names stand that may not, and in how many of its texts."""

    table: str
    column: str
    kind: str
    texts: int

    def __str__(self) -> str:
        """Return the finding in words, without the name."""
        return (
            f"{self.table}.{self.column} holds a name that may not be shown ({self.texts:,} texts); {REMEDY[self.kind]}"
        )


def names_held(connection: duckdb.DuckDBPyConnection, people: People | None = None) -> list[Found]:
    """Return every column of the published tables, as the private database has them, that holds a name it may not."""
    people = people or people_beside(connection)
    if not people.names:
        return []
    return [
        Found(table.name, column, kind, texts)
        for table in TABLES.values()
        for kind, names in ((WORDS, people.names), (KEY, people.hidden), (PERSON, people.hidden))
        for column in table.columns_about(kind)
        if names and (texts := _texts(connection, table, column, kind, names))
    ] + _names_in_base(connection)


def _texts(connection: duckdb.DuckDBPyConnection, table: Table, column: str, kind: str, names: KnownNames) -> int:
    asked = f'select distinct "{column}" as text from {table.name} where "{column}" is not null'
    if kind != WORDS:
        asked = f"select text from ({asked}) where regexp_matches(regexp_replace(text, $1, '', 'g'), $2)"
        rows = connection.execute(asked, [OWN_WORDS, LIKE_A_NAME]).fetchall()
    else:
        rows = connection.execute(asked).fetchall()
    return sum(names.holds(text) for (text,) in rows)


def _names_in_base(connection: duckdb.DuckDBPyConnection) -> list[Found]:
    """Names come into the published file as it is made: the private database's published tables hold none."""
    found = []
    for table in TABLES.values():
        for column in table.columns_about(NAME):
            count = connection.execute(f"select count({column}) from {table.name}").fetchone()[0]
            if count:
                found.append(Found(table.name, column, NAME, count))
    return found
