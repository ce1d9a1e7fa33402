"""The profile's lines for the file's form: format, marks, encoding, what is missing, and which rows are no shots."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from warehouse.landing.learning.cells import DATE, is_nothing
from warehouse.landing.learning.columns import Columns
from warehouse.landing.learning.entries import KEPT, LIKELY, OPEN, SURE, Proposal, Question
from warehouse.landing.learning.tables import SampleTable

FILE_KEYS = ("format", "delimiter", "decimal", "thousands", "quoted", "encoding", "header", "rows_at", "nulls")


def propose_file(proposal: Proposal, columns: Columns, tables: Sequence[SampleTable], kept: Mapping[str, Any]) -> None:
    """Add the [file] lines that say how bytes become cells and cells numbers."""
    grid, marks = tables[0].grid, columns.marks

    def line(key: str, value: Any, how: str, why: str, *questions: Question) -> None:
        if key in kept and kept[key] not in (OPEN, value):
            proposal.add("file", key, kept[key], KEPT, "as it stood here")
        else:
            proposal.add("file", key, value, how, why, *questions)

    line(
        "format",
        grid.format,
        SURE,
        {"csv": "lines of text", "workbook": f"{len(tables)} sheets have this table"}.get(
            grid.format, "by its content"
        ),
    )
    if grid.format == "csv":
        line(
            "delimiter",
            grid.said["delimiter"],
            SURE,
            f"{len(columns.table.header)} columns in {len(columns.rows):,} rows",
        )
    if grid.format in ("csv", "json", "jsonl"):
        encodings = Counter(table.grid.said.get("encoding", "utf-8") for table in tables)
        encoding = encodings.most_common(1)[0][0]
        how, why = (
            (SURE, "every byte is sound in it") if encoding.startswith("utf") else (LIKELY, "its words are known in it")
        )
        line("encoding", "detect" if len(encodings) > 1 else encoding, how, why)
    if grid.format == "csv" and grid.said["delimiter"] == marks.decimal:
        line("quoted", True, SURE, "delimiter and decimal mark are the same: cells with a decimal stand in quotes")
    if grid.format in ("csv", "workbook"):
        if marks.sure:
            line("decimal", marks.decimal, SURE, marks.why)
        else:
            line(
                "decimal",
                OPEN,
                "",
                "both are marks",
                Question("file.decimal", f"which mark parts the decimals: {marks.why}", (".", ",")),
            )
        if marks.thousands:
            line("thousands", marks.thousands.replace("’", "'"), SURE, "large numbers are grouped by it")
    if grid.said.get("rows_at"):
        line("rows_at", grid.said["rows_at"], SURE, f"{len(columns.rows):,} objects with values stand there")
    if any(table.lines_above for table in tables) and grid.format in ("csv", "workbook"):
        above = sorted({table.lines_above for table in tables})
        line("header", "find", SURE, f"lines above the header: {', '.join(map(str, above[:5]))}")
    nulls = _nulls(columns)
    if nulls:
        line("nulls", ["", *nulls], SURE, "cells that say there is no value")
    for key, value in kept.items():
        if key not in FILE_KEYS and key not in ("timestamp_format", "timezone") and value != OPEN:
            proposal.add("file", key, value, KEPT, "as it stood here")


def _nulls(columns: Columns) -> list[str]:
    found: Counter[str] = Counter()
    for place, column in columns.numbers.items():
        for text, count in column.nothing.items():
            if is_nothing(text) or count > 1 or len(text) <= 6:
                found[text] += count
        if column.sentinels:
            for text in columns.texts(place):
                bare = text.replace(",", ".")
                if re.fullmatch(r"-?\d+(\.0+)?", bare) and float(bare) in column.sentinels:
                    found[text] += 1
    for place in (columns.club, *columns.player):
        if place is not None:
            found.update(text for text in columns.texts(place) if text and is_nothing(text))
    return [text for text, _ in found.most_common(8)]


def propose_rows(proposal: Proposal, columns: Columns, tables: Sequence[SampleTable]) -> None:
    """Add the [rows] lines: units rows, and rules under which summaries and footers are no shots."""
    units = {table.units_rows for table in tables}
    if max(units):
        proposal.add("rows", "units_rows", max(units), SURE, "the row under the header holds units")
    if not columns.passed_over:
        return
    table, time = columns.table, columns.time
    cells = [table.grid.rows[at] for at in columns.passed_over]
    place = time.places[-1] if time else None

    def digits(row: list[str]) -> bool:
        return place is not None and place < len(row) and any(letter.isdigit() for letter in row[place])

    left = [row for row in cells if digits(row)]
    if time and len(left) < len(cells):
        proposal.add(
            "rows",
            "summary_without",
            ["struck_at"],
            SURE,
            f"{len(cells) - len(left)} rows have no time: averages, titles; they are no shots",
        )
    if left and time and place is not None:
        pattern = r"\d{1,2}[:.h]\d{2}" if any(form.clocked for form in time.forms) else DATE.pattern
        if not any(re.search(pattern, row[place]) for row in left):
            proposal.add(
                "rows",
                "only_where",
                {table.header[place]: pattern},
                SURE,
                f"{len(left)} rows hold no time of day there",
            )
            return
        lead = {row[0] for row in left if row and row[0] and not any(letter.isdigit() for letter in row[0])}
        if lead:
            proposal.add(
                "rows",
                "except_where",
                {table.header[0]: "^(" + "|".join(map(re.escape, sorted(lead))) + ")"},
                LIKELY,
                "rows that begin so are no shots",
            )
