"""Dates that a file says outside its table: in its name, its sheets, a line above, or above the shots of a document.

Not here: the time of day in the table (time_entries.py).
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from warehouse.landing.learning import times, words
from warehouse.landing.learning.columns import Columns
from warehouse.landing.learning.tables import SampleTable

NAME_DATES = (
    r"(\d{4}-\d{2}-\d{2})",
    r"(\d{4}_\d{2}_\d{2})",
    r"(\d{2}\.\d{2}\.\d{4})",
    r"(\d{2}-\d{2}-\d{4})",
    r"(\d{2}_\d{2}_\d{4})",
    r"(20\d{2}[01]\d[0-3]\d)",
    r"(\d{2}\.\d{2}\.\d{2})",
    r"(\d{4}\.\d{2}\.\d{2})",
    r"(\d{1,2} [A-Za-z]{3} \d{4})",
)


@dataclass(frozen=True)
class OutsideText:
    """Something said once a file or sheet: its field in a profile, and each table's text, or each shot's."""

    field: dict[str, str]
    texts: tuple[str, ...]
    where: str
    by_shot: bool = False


def hints(tables: Sequence[SampleTable]) -> list[dt.date]:
    """Return dates said in files' names, folders, sheets and above tables that can be read in one way only."""
    found: list[dt.date] = []
    for table in tables:
        path = table.grid.path
        said = [path.name, path.parent.name, table.grid.sheet or "", *(value for _, value, _ in table.labels)]
        for text in said:
            for match in re.finditer(r"(20\d{2})[-_.]?([01]\d)[-_.]?([0-3]\d)", text):
                try:
                    found.append(dt.date(*(int(part) for part in match.groups())))
                except ValueError:
                    continue
    return found


def date_in_json(columns: Columns, shots: int) -> OutsideText | None:
    """Return where a date stands above the shots of a JSON document; None where none does."""
    for path, values in columns.table.grid.outside.items():
        if len(values) == len(columns.table.rows) and len(columns.rows) == shots:
            texts = [values[row - 1] for row in columns.rows]
            if all(texts) and _are_dates(texts):
                return OutsideText({"path": path}, tuple(texts), f"at {path}", by_shot=True)
    return None


def date_outside(tables: Sequence[SampleTable]) -> OutsideText | None:
    """Return where the date of every table stands outside it: a label, the sheet's name, the file's name."""
    shared = [
        label for label, _, _ in tables[0].labels if all(label in [one for one, _, _ in t.labels] for t in tables)
    ]
    for label in dict.fromkeys(shared):
        texts = [next(value for one, value, _ in table.labels if one == label) for table in tables]
        if _are_dates(texts) and (
            "date" in words.meanings(label) or "date and time" in words.meanings(label) or len(texts[0]) < 14
        ):
            return OutsideText({"label": label}, tuple(texts), f"under '{label}' above it")
    for kind, said in (
        ("sheet", [table.grid.sheet or "" for table in tables]),
        ("file_name", [Path(t.grid.path).name for t in tables]),
    ):
        for pattern in NAME_DATES:
            matches = [re.search(pattern, text) for text in said]
            if all(matches) and _are_dates([match[1] for match in matches if match]):
                where = "in the sheet's name" if kind == "sheet" else "in the file's name"
                return OutsideText({kind: pattern}, tuple(match[1] for match in matches if match), where)
    return None


def _are_dates(texts: Sequence[str]) -> bool:
    return any(form.dated and not form.clocked for form in times.forms(list(texts))) or all(
        re.fullmatch(r"\d{4}-\d{2}-\d{2}", text) for text in texts
    )
