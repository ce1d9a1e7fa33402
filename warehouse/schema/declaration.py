"""What a column and a table are: the one place a row's facts are written.

From a declaration come the DDL with its comments, the checks, the dictionary and DICTIONARY.md. Not here: which
columns and tables there are (raw.py, core.py, mart.py, ops.py), nor how rows are made (warehouse/models).
"""

from __future__ import annotations

from dataclasses import dataclass

BLOCKING, WARNING = "blocking", "warning"
PERSON, NAME, WORDS, KEY = "person", "name", "words", "key"
"""What of a person a column of text can hold: the id of a student or of what was theirs, a person's name, outside words
that may mention anybody, or outside words by which tables are joined (a cohort's name, a drill's id, a file's path)."""


@dataclass(frozen=True)
class Column:
    """One column of a table.

    Attributes
    ----------
    name, type
        Name, and DuckDB type in upper case (VARCHAR, DOUBLE, BIGINT, INTEGER, BOOLEAN, DATE, TIMESTAMP, TIMESTAMPTZ).
    description
        One sentence a reader understands without the code.
    unit
        Unit of the stored value ("m/s", "deg"), or "" where there is none; "metric" where it is that of the row's
        metric.
    nullable
        False: a null is a fault that the check reports.
    low, high
        Closed limits, checked where given.
    values
        The only values allowed, checked where given.
    severity
        "blocking": a fault stops publication; "warning": it is published with a warning.
    personal
        PERSON, NAME, WORDS or KEY; empty: the program's own words, which name nobody.
    """

    name: str
    type: str
    description: str
    unit: str = ""
    nullable: bool = False
    low: float | None = None
    high: float | None = None
    values: tuple[str, ...] = ()
    severity: str = BLOCKING
    personal: str = ""

    def optional(self) -> Column:
        """Return the same column, nullable."""
        return Column(**{**self.__dict__, "nullable": True})


@dataclass(frozen=True)
class Table:
    """One table: its schema-qualified name, what one row is, its key and its columns.

    `key` columns together are unique (checked, blocking). `night` names the column by which a table is replaced night
    by night; tables without it are replaced whole. `published` says whether readers see it.
    """

    name: str
    row: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]
    night: str | None = None
    published: bool = True

    @property
    def schema(self) -> str:
        """Return the part of the name before the dot."""
        return self.name.split(".")[0]

    @property
    def column_names(self) -> tuple[str, ...]:
        """Return the columns' names in their order."""
        return tuple(column.name for column in self.columns)

    def columns_about(self, *kinds: str) -> tuple[str, ...]:
        """Return the names of the columns that can hold these kinds of what is personal, in their order."""
        return tuple(column.name for column in self.columns if column.personal in kinds)

    @property
    def types(self) -> list[tuple[str, str]]:
        """Return name and type of each column in their order, as a database tells them of a table it holds."""
        return [(column.name, column.type) for column in self.columns]

    def gained(self, held: list[tuple[str, str]]) -> list[Column]:
        """Return the columns to add to a table that holds others (`types`); none where adding would not do."""
        lacking = [column for column in self.columns if (column.name, column.type) not in held]
        fits = held and not set(held) - set(self.types) and all(column.nullable for column in lacking)
        return lacking if fits else []

    def ddl(self) -> str:
        """Return `create table if not exists`, without constraints (the lakehouse has none; checks hold instead)."""
        body = ",\n".join(f'    "{column.name}" {column.type}' for column in self.columns)
        return f"create table if not exists {self.name} (\n{body}\n)"

    def comments(self) -> list[str]:
        """Return the statements that store the descriptions in the database file."""
        statements = [f"comment on table {self.name} is {quoted('One row: ' + self.row)}"]
        for column in self.columns:
            text = column.description + (f" [{column.unit}]" if column.unit else "")
            statements.append(f'comment on column {self.name}."{column.name}" is {quoted(text)}')
        return statements


def quoted(text: str) -> str:
    """Return a SQL string literal."""
    return "'" + text.replace("'", "''") + "'"
