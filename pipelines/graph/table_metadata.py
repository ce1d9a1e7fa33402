"""What Dagster's pages show of a table, by the keys that they know: its columns, its rows, how long it took.

Not here: what a table holds (warehouse/schema).
"""

from __future__ import annotations

import dagster as dg

from warehouse.schema.declaration import Table

ROW_COUNT, COLUMN_SCHEMA = "dagster/row_count", "dagster/column_schema"


def columns(table: Table) -> dict[str, dg.TableSchema]:
    """Return a table's columns as its asset's metadata."""
    return {
        COLUMN_SCHEMA: dg.TableSchema(
            [
                dg.TableColumn(
                    column.name,
                    column.type,
                    f"{column.description} [{column.unit}]" if column.unit else column.description,
                    dg.TableColumnConstraints(nullable=column.nullable),
                )
                for column in table.columns
            ]
        )
    }


def made(rows: int, seconds: float) -> dict[str, float]:
    """Return what making a table came to."""
    return {"rows": rows, ROW_COUNT: rows, "seconds to make": round(seconds, 3)}
