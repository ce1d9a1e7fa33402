"""The dictionary: every published column in words, as rows and as DICTIONARY.md."""

from __future__ import annotations

from pathlib import Path

from warehouse.schema.declaration import Column
from warehouse.schema.registry import TABLES

FILE = Path(__file__).parents[1] / "DICTIONARY.md"


def limits_in_words(column: Column) -> str | None:
    """Return a column's limits or allowed values."""
    if column.values:
        return ", ".join(column.values)
    if column.low is not None and column.high is not None:
        return f"{column.low:g} to {column.high:g}"
    if column.low is not None:
        return f"{column.low:g} and over"
    return None


def entries() -> list[dict]:
    """Return mart.dictionary's rows: a table's own row has an empty column name."""
    made = []
    for table in TABLES.values():
        made.append(
            {"table_name": table.name, "column_name": "", "type": "table", "unit": "", "nullable": False,
             "limits": f"unique by {', '.join(table.key)}", "description": f"One row: {table.row}."}
        )  # fmt: skip
        made += [
            {"table_name": table.name, "column_name": column.name, "type": column.type, "unit": column.unit,
             "nullable": column.nullable, "limits": limits_in_words(column), "description": column.description}
            for column in table.columns
        ]  # fmt: skip
    return made


def as_markdown() -> str:
    """Return DICTIONARY.md."""
    lines = [
        "# Dictionary of the published file",
        "",
        "Made from `warehouse/schema` by `python -m warehouse.schema.dictionary`; a test fails when it is stale. The "
        "same words are in the file itself: `mart.dictionary`, and comments on tables and columns.",
    ]
    for table in TABLES.values():
        lines += ["", f"## {table.name}", "", f"One row: {table.row}. Unique by {', '.join(table.key)}.", ""]
        lines += ["| column | type | unit | null | limits | holds |", "|---|---|---|---|---|---|"]
        for column in table.columns:
            null = "yes" if column.nullable else ""
            limits = (limits_in_words(column) or "").replace("|", "\\|")
            lines.append(
                f"| {column.name} | {column.type} | {column.unit} | {null} | {limits} | {column.description} |"
            )
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    FILE.write_text(as_markdown(), encoding="utf-8")
