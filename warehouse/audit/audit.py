"""Is it fit to publish: checks made from the schema's declarations, and the files of warehouse/checks.

Not here: what a fault leads to (pipelines/graph/asset_checks.py, publish.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import duckdb

from warehouse.schema.declaration import BLOCKING, WARNING, Column, Table
from warehouse.schema.ops import PUBLICATION
from warehouse.schema.registry import TABLES

FOLDER = Path(__file__).parents[1] / "checks"


@dataclass(frozen=True)
class Check:
    """One check of one table: `sql` selects the rows at fault, with a column `example`; `remedy` may be empty."""

    name: str
    table: str
    severity: str
    meaning: str
    sql: str
    remedy: str = ""


@dataclass(frozen=True)
class Fault:
    """What a check found."""

    check: Check
    faults: int
    example: str | None

    def sentence(self) -> str:
        """Return the finding in words."""
        return sentence(self.check.table, self.check.meaning, self.faults, self.example, self.check.remedy)


def sentence(table: str, meaning: str, faults: int, example: str | None, remedy: str | None) -> str:
    """Say what a check found, as ops.check_result keeps it, and what to do."""
    found = f"{faults:,} found, such as {example}" if example else f"{faults:,} found"
    return f"{table}: {meaning} ({found})" + (f"; {remedy}" if remedy else "")


@cache
def checks() -> tuple[Check, ...]:
    """Return every check, those of the declarations first."""
    return (*(check for table in TABLES.values() for check in declared(table)), *written())


def scope(table: Table) -> str:
    """Return a by-night table cut to the nights built, so that a check costs what is new.

    Of publications only the one being made: an older program noted those before it in fewer columns.
    """
    if table is PUBLICATION:
        return f"(from {table.name} where published_at = (select max(published_at) from {table.name}))"
    nights = " semi join stage.night using (night)" if table.night else ""
    return f"(from {table.name}{nights})"


def declared(table: Table) -> list[Check]:
    """Return the checks that a table's declaration asks for: one a severity, the key among the blocking ones."""
    key = ", ".join(table.key)
    example = " || ' ' || ".join(f"coalesce({column}::varchar, '-')" for column in table.key)
    repeated = f"select 'repeated key ' || {example} as example from {scope(table)} group by {key} having count(*) > 1"
    made = []
    for severity in (BLOCKING, WARNING):
        conditions = {column.name: fault(column) for column in table.columns if column.severity == severity}
        asked = {name: condition for name, condition in conditions.items() if condition}
        parts = [repeated] if severity == BLOCKING else []
        if asked:
            named = " ".join(f"when {condition} then '{name}'" for name, condition in asked.items())
            parts.append(
                f"select case {named} end || ' of ' || {example} as example from {scope(table)} "
                f"where {' or '.join(f'({condition})' for condition in asked.values())}"
            )
        if parts:
            meaning = "a value missing, outside its limits or not one of those allowed"
            meaning += f", or more than one row with the same {key}" if severity == BLOCKING else ""
            made.append(Check(f"as declared, {severity}", table.name, severity, meaning, " union all ".join(parts)))
    return made


def fault(column: Column) -> str:
    """Return the condition under which a column's value is at fault; empty where nothing is asked of it."""
    asked = []
    name = f'"{column.name}"'
    if not column.nullable:
        asked.append(f"{name} is null")
    if column.values:
        allowed = ", ".join(f"'{value}'" for value in column.values)
        asked.append(f"{name} not in ({allowed})")
    if column.low is not None:
        asked.append(f"{name} < {column.low}")
    if column.high is not None:
        asked.append(f"{name} > {column.high}")
    if column.type == "DOUBLE":
        asked.append(f"not isfinite({name})")
    return " or ".join(asked)


def written() -> list[Check]:
    """Return the checks of warehouse/checks."""
    made = []
    for path in sorted(FOLDER.glob("*.sql")):
        text = path.read_text(encoding="utf-8")
        first, second, third, _ = text.split("\n", 3)
        severity, meaning = first.removeprefix("-- ").split(": ", 1)
        about, remedy = second.removeprefix("-- about: "), third.removeprefix("-- remedy: ")
        made.append(Check(path.stem.replace("_", " "), about, severity, meaning, text, remedy))
    return made


def run(connection: duckdb.DuckDBPyConnection, asked: tuple[Check, ...]) -> list[Fault]:
    """Run checks and return what they found; nothing where all is well."""
    found = []
    for check in asked:
        count, example = connection.execute(f"select count(*), min(example) from ({check.sql})").fetchone()
        if count:
            found.append(Fault(check, count, example))
    return found
