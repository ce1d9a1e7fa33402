"""Rows of the academy's tables out of its own sheets, by a mapping: dates, names, ids, and faults with sheet and row.

Not here: what the mapping says (propose_mapping.py), what the home holds already (merge_rows.py).
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any

from warehouse.landing.learning import times
from warehouse.landing.learning.words import bare
from warehouse.landing.onboarding.duplicate_people import normal_name
from warehouse.landing.onboarding.own_sheets import OwnSheet

Row = dict[str, str]
NAME_OF = {"students": ("student_id", "name"), "coaches": ("coach_id", "name"), "bays": ("bay_id", "bay_id"),
           "drills": ("drill_id", "name")}  # fmt: skip


@dataclass
class Made:
    """Rows by table, faults that keep them from being written, and drills found in notes with their sentence."""

    rows: dict[str, list[Row]] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)
    sentences: list[str] = field(default_factory=list)


def make_rows(sheets: Sequence[OwnSheet], mapping: Mapping[str, Any], home: Mapping[str, list[Row]]) -> Made:
    """Return the rows that sheets hold.

    Parameters
    ----------
    sheets
        The workbook's.
    mapping
        Table -> part, without open questions.
    home
        Table -> rows the home holds: ids that were made stay, and names are looked up in them too.
    """
    made = Made()
    by_name = {sheet.name: sheet for sheet in sheets}
    for table, part in mapping.items():
        sheet = by_name.get(part.get("sheet", ""))
        if "sheet" in part and sheet is None:
            made.faults.append(f"there is no sheet '{part['sheet']}' (there are: {', '.join(by_name)})")
            continue
        _Table(table, part, sheet, made, home).fill()
    return made


class _Table:
    """One table being made."""

    def __init__(
        self, table: str, part: Mapping[str, Any], sheet: OwnSheet | None, made: Made, home: Mapping[str, list[Row]]
    ) -> None:
        self.table, self.part, self.sheet, self.made, self.home = table, part, sheet, made, home
        self.columns: Mapping[str, Any] = part["columns"]

    def fill(self) -> None:
        """Make the rows."""
        if self.table == "drill_log" and "text" in self.columns.get("drill_id", {}):
            self.made.rows["drill_log"] = list(self._drills_in_notes())
            return
        rows = list(self._rows())
        if self.part.get("distinct"):
            name = NAME_OF[self.table][1]
            plain = _bay if self.table == "bays" else normal_name
            first = {plain(row[name]): row for row in reversed(rows) if row.get(name)}
            rows = sorted(first.values(), key=lambda row: int(row["line"]))
        self.made.rows[self.table] = rows
        self._make_ids(rows)
        for row in rows:
            row.pop("line", None)

    def _rows(self) -> Any:
        if self.sheet is None:
            yield {column: str(said.get("value", "")) for column, said in self.columns.items()}
            return
        for number, cells in enumerate(self.sheet.rows):
            said = dict(zip(self.sheet.header, [*cells, *[""] * len(self.sheet.header)], strict=False))
            if sum(bool(cell) for cell in cells) < 2 and len(self.sheet.header) > 2:
                continue
            row: Row = {"line": str(self.sheet.numbers[number])}
            for column, how in self.columns.items():
                row[column] = self._value(column, how if isinstance(how, dict) else {"from": how}, said, row)
            yield row

    def _fault(self, row: Row, words: str) -> None:
        name = self.sheet.name if self.sheet else self.table
        self.made.faults.append(f"sheet '{name}' row {row['line']}: {words}")

    def _value(  # noqa: PLR0911  one return for each way a column is said
        self, column: str, how: Mapping[str, Any], said: Mapping[str, str], row: Row
    ) -> str:
        if "value" in how:
            return str(how["value"])
        if "minutes" in how:
            return self._end(how["minutes"], said, row)
        if "make" in how or "as" in how:
            return ""
        sources = how["from"] if isinstance(how["from"], list) else [how["from"]]
        if missing := [source for source in sources if source not in said]:
            self._fault(row, f"there is no column '{missing[0]}'")
            return ""
        text = " ".join(said[source] for source in sources if said[source]).strip()
        text = how.get("map", {}).get(text, text)
        if how.get("names") == "last first" and "," in text:
            last, _, first = text.partition(",")
            text = f"{first.strip()} {last.strip()}"
        if column in ("starts_at", "ends_at", "joined_on", "born_on") and text:
            return self._moment(column, text, how.get("date_format"), row)
        if column in ("handicap", "altitude_m"):
            return _number(text, how.get("decimal", "."), plus_is_minus=column == "handicap")
        return self._found(how["find"], text, row) if "find" in how and text else text

    def _moment(self, column: str, text: str, form: str | None, row: Row) -> str:
        day = column in ("joined_on", "born_on")
        moment = (times.read(times.halves(text), form) if form else None) or _iso(text)
        if moment is None:
            self._fault(row, f"'{text}' is no {'date' if day else 'time'}" + (f" written {form}" if form else ""))
            return ""
        return moment.date().isoformat() if day else moment.replace(tzinfo=None).isoformat()

    def _end(self, minutes: str, said: Mapping[str, str], row: Row) -> str:
        text = said.get(minutes, minutes)
        length = _minutes(text)
        if length is None or not row.get("starts_at"):
            if row.get("starts_at"):
                self._fault(row, f"'{text}' is no number of minutes")
            return ""
        return (dt.datetime.fromisoformat(row["starts_at"]) + dt.timedelta(minutes=length)).isoformat()

    def _found(self, table: str, text: str, row: Row) -> str:
        """Return the id that a name means in a table; a fault where it means nobody, or two."""
        key, name = NAME_OF[table]
        rows = {one[key]: one for one in [*self.home.get(table, ()), *self.made.rows.get(table, ())]}
        if text in rows:
            return text
        plain = _bay if table == "bays" else normal_name
        fits = [one[key] for one in rows.values() if plain(one[name]) == plain(text)]
        if len(fits) == 1:
            return fits[0]
        if fits:
            self._fault(row, f"'{text}' may be {' or '.join(fits)} in {table}: write the id in the sheet, or map it")
            return ""
        near = get_close_matches(normal_name(text), [normal_name(one[name]) for one in rows.values()], 1, 0.6)
        close = next((one[name] for one in rows.values() if near and normal_name(one[name]) == near[0]), None)
        self._fault(row, f"'{text}' is nobody in {table}" + (f"; nearest is '{close}'" if close else ""))
        return ""

    def _make_ids(self, rows: list[Row]) -> None:
        """Give made ids: the home's for who is there already, by name in order; else the next free number."""
        column = next((one for one, how in self.columns.items() if isinstance(how, dict) and "make" in how), None)
        if column is None:
            return
        prefix = self.columns[column]["make"]
        if self.table == "lessons":
            for row in rows:
                start = row.get("starts_at", "")
                moment = f"{start[:10]}-{start[11:16].replace(':', '')}"
                row[column] = f"{prefix}-{moment}-{row.get('bay_id', '')}-{row.get('student_id', '')}"
            return
        there: dict[str, list[str]] = {}
        for one in self.home.get(self.table, ()):
            there.setdefault(normal_name(one["name"]), []).append(one[column])
        numbers = [
            int(match[1])
            for one in self.home.get(self.table, ())
            if (match := re.fullmatch(rf"{prefix}(\d+)", one[column]))
        ]
        following = max(numbers, default=0) + 1
        for row in rows:
            known = there.get(normal_name(row["name"]), [])
            if known:
                row[column] = known.pop(0)
            else:
                row[column], following = f"{prefix}{following:03d}", following + 1

    def _drills_in_notes(self) -> Any:
        """Yield a row for every drill whose name stands in a lesson's notes, and keep the sentence."""
        if self.sheet is None:
            return
        drills = [*self.home.get("drills", ()), *self.made.rows.get("drills", ())]
        names = {one["drill_id"]: bare(one["name"]) for one in drills}
        lessons = self.made.rows.get("lessons", [])
        bodies = [
            cells for cells in self.sheet.rows if sum(bool(cell) for cell in cells) >= 2 or len(self.sheet.header) <= 2
        ]
        place = self.sheet.header.index(self.columns["drill_id"]["text"])
        for lesson, cells in zip(lessons, bodies, strict=False):
            notes = cells[place] if place < len(cells) else ""
            for sentence in re.split(r"(?<=[.!?;])\s+|\n", notes):
                for drill, name in names.items():
                    if re.search(rf"(?<!\w){re.escape(name)}(?!\w)", bare(sentence)):
                        self.made.sentences.append(f'{lesson["lesson_id"]}: {drill} in "{sentence.strip()}"')
                        yield {"lesson_id": lesson["lesson_id"], "drill_id": drill}


def _bay(text: str) -> str:
    """Return a bay's name as it is compared: its number where it has one."""
    numbers = re.findall(r"\d+", text)
    return str(int(numbers[-1])) if numbers else bare(text).strip()


def _iso(text: str) -> dt.datetime | None:
    try:
        return dt.datetime.fromisoformat(text)
    except ValueError:
        return None


def _number(text: str, decimal: str, *, plus_is_minus: bool) -> str:
    said = text.replace(" ", "").replace(",", ".") if decimal == "," else text.replace(" ", "")
    return "-" + said[1:] if plus_is_minus and said.startswith("+") else said


def _minutes(text: str) -> float | None:
    """Return minutes of "60", "60 min", "1:30", "1 h 30", "1,5 h"."""
    said = bare(text).strip()
    rules: tuple[tuple[str, Callable[[re.Match[str]], float]], ...] = (
        (r"(\d{1,2}):(\d{2})(?::\d{2})?", lambda m: 60 * int(m[1]) + int(m[2])),
        (r"(\d{1,2})\s*h(?:\w*)\s*(\d{1,2})?\s*(?:m\w*)?", lambda m: 60 * int(m[1]) + int(m[2] or 0)),
        (
            r"(\d+(?:[.,]\d+)?)\s*(?:h\w*|std\w*|stund\w*|ore|ora|uur|godz\w*|hod\w*|tim\w*)",
            lambda m: 60 * float(m[1].replace(",", ".")),
        ),
        (r"(\d+(?:[.,]\d+)?)\s*(?:m\w*|'|′)?", lambda m: float(m[1].replace(",", "."))),
    )
    for pattern, value in rules:
        if match := re.fullmatch(pattern, said):
            return value(match)
    return None
