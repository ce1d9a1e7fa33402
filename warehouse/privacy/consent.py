"""The check of consent: no text that is about to be published holds a name that may not stand there.

Words may hold nobody's name; ids and what tables are joined by, none of people who are shown nowhere. Every declared
column that can hold one is looked at whole, each text once. Not here: masking (masking.py), which leaves nothing to
find.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

import duckdb

from warehouse.audit import audit
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
LOOKED_FOR = "raw.consent_looked_for"
"""For whom the nights built so far were looked through, as a hash."""
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


def names_about_to_be_published(connection: duckdb.DuckDBPyConnection) -> list[Found]:
    """Return what `names_held` finds; nights that were looked through before, for the same people, are not again."""
    people = people_beside(connection)
    connection.execute(f"create table if not exists {LOOKED_FOR} (people varchar)")
    before = connection.execute(f"select people from {LOOKED_FOR}").fetchall()
    found = names_held(connection, people, new_nights_only=before == [(_told_apart(people),)])
    connection.execute(f"delete from {LOOKED_FOR}")
    if not found:
        connection.execute(f"insert into {LOOKED_FOR} values (?)", [_told_apart(people)])
    return found


def names_held(
    connection: duckdb.DuckDBPyConnection, people: People | None = None, *, new_nights_only: bool = False
) -> list[Found]:
    """Return every column of the published tables, as the private database has them, that holds a name it may not."""
    people = people or people_beside(connection)
    return _columns_held(connection, people, new_nights_only=new_nights_only) + _names_in_base(connection)


def _told_apart(people: People) -> str:
    said = "\n".join([*sorted(people.names.said), "", *sorted(people.hidden.said)])
    return hashlib.sha256(said.encode("utf-8", "surrogatepass")).hexdigest()


def _columns_held(connection: duckdb.DuckDBPyConnection, people: People, *, new_nights_only: bool) -> list[Found]:
    def source_of(table: Table) -> str:
        return audit.scope(table) if new_nights_only and table.night else table.name

    return [
        Found(table.name, column, kind, texts)
        for table in TABLES.values()
        for kind, names in ((WORDS, people.names), (KEY, people.hidden), (PERSON, people.hidden))
        for column in table.columns_about(kind)
        if names and (texts := _texts(connection, source_of(table), column, kind, names))
    ]


def _texts(connection: duckdb.DuckDBPyConnection, source: str, column: str, kind: str, names: KnownNames) -> int:
    asked = f'select distinct "{column}" as text from {source} where "{column}" is not null'
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
