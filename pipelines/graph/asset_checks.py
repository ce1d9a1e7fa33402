"""Asset checks, made from the declarations and files that warehouse/audit/audit.py knows."""

from __future__ import annotations

import dagster as dg
import duckdb

from warehouse.audit import audit
from warehouse.audit.audit import Check, Fault
from warehouse.build.model import models
from warehouse.privacy.masking import people_beside
from warehouse.schema.declaration import BLOCKING
from warehouse.schema.registry import TABLES


class BooksAtFault(RuntimeError):
    """A blocking check of what runs write down of themselves failed; the message says which."""


def key(table: str) -> dg.AssetKey:
    """Return a table's asset key."""
    return dg.AssetKey(table.split("."))


def checks_of(table: str) -> tuple[Check, ...]:
    """Return the checks about a table."""
    return tuple(check for check in audit.checks() if check.table == table)


def spec_name(check: Check) -> str:
    """Return a check's name as Dagster allows it."""
    return "".join(letter if letter.isalnum() else "_" for letter in check.name)


def specs(table: str) -> list[dg.AssetCheckSpec]:
    """Return a table's check specs; a blocking one that fails stops all that is downstream."""
    return [
        dg.AssetCheckSpec(
            spec_name(check), asset=key(table), description=check.meaning, blocking=check.severity == BLOCKING
        )
        for check in checks_of(table)
    ]


def held_results(connection: duckdb.DuckDBPyConnection, table: str) -> list[dg.AssetCheckResult]:
    """Return the results of a table that is carried over, as its checks found them when it was made."""
    held = dict(connection.execute(
        "select check_name, (faults, example) from ops.check_result where table_name = ?", [table]
    ).fetchall())  # fmt: skip
    asked = checks_of(table)
    return _as_results(asked, {check: Fault(check, *held[check.name]) for check in asked if check.name in held})


def results(connection: duckdb.DuckDBPyConnection, table: str) -> list[dg.AssetCheckResult]:
    """Run a table's checks, keep the findings in ops.check_result, and return the results."""
    asked = checks_of(table)
    found = {fault.check: fault for fault in audit.run(connection, asked)}
    connection.execute("delete from ops.check_result where table_name = ?", [table])
    if found:
        names = people_beside(connection).names
        connection.executemany(
            "insert into ops.check_result values (?, ?, ?, ?, ?, ?, ?)",
            [
                [
                    table,
                    check.name,
                    check.severity,
                    fault.faults,
                    fault.example and names.mask(fault.example),
                    check.meaning,
                    check.remedy or None,
                ]
                for check, fault in found.items()
            ],
        )
    return _as_results(asked, found)


def _as_results(asked: tuple[Check, ...], found: dict[Check, Fault]) -> list[dg.AssetCheckResult]:
    return [
        dg.AssetCheckResult(
            passed=check not in found,
            asset_key=key(check.table),
            check_name=spec_name(check),
            severity=dg.AssetCheckSeverity.ERROR if check.severity == BLOCKING else dg.AssetCheckSeverity.WARN,
            metadata={"faults": found[check].faults, "example": found[check].example or ""}
            if check in found
            else {"faults": 0},
            description=found[check].sentence() if check in found else check.meaning,
        )
        for check in asked
    ]


def books() -> tuple[str, ...]:
    """Return the tables that no model makes and so no model checks: what runs write down of themselves."""
    return tuple(name for name in TABLES if name not in models())


def audited(connection: duckdb.DuckDBPyConnection, *tables: str) -> list[str]:
    """Run the checks of books and return what warned, in words.

    Raises
    ------
    BooksAtFault
        A blocking one failed: what it is about is not to be published.
    """
    found = [fault for table in tables for fault in audit.run(connection, checks_of(table))]
    if stopping := [fault.sentence() for fault in found if fault.check.severity == BLOCKING]:
        raise BooksAtFault("the audit stopped it: " + "; ".join(stopping))
    return [fault.sentence() for fault in found]
