"""The mapping of an academy's own sheets, proposed: which column is which, how dates and names are written.

A mapping is TOML, one part a table: `sheet`, `header_row`, and `columns`, where each comes from; "?" is a question.
Not here: recognising sheets (own_sheets.py), making rows (own_rows.py).
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from warehouse.landing.learning import times
from warehouse.landing.learning.entries import OPEN, as_toml
from warehouse.landing.learning.words import bare
from warehouse.landing.onboarding.own_sheets import OwnSheet, vocabulary

VALUES = {"handed": "handed", "consent": "yesno", "consent_evidence": "yesno", "setting": "setting", "ball": "ball"}
"""Column -> the words by which its values are recognised."""
ASKED = {
    ("students", "handed"): ("right", "left"), ("students", "consent"): ("yes", "no"), ("students", "joined_on"): (),
    ("bays", "site_id"): (), ("bays", "export_profile"): (), ("bays", "setting"): ("indoor", "outdoor"),
    ("bays", "ball"): ("range", "premium"), ("sites", "timezone"): (), ("sites", "altitude_m"): (),
    ("drills", "club_group"): ("any", "driver", "wood", "iron", "wedge"),
}  # fmt: skip
"""Required columns that no sheet may say: one value for all rows is asked, with the answers that fit."""
NEEDED = {
    "sites": ("site_id", "name", "timezone", "altitude_m"),
    "bays": ("bay_id", "site_id", "export_profile", "setting", "ball"),
    "coaches": ("coach_id", "name"), "students": ("student_id", "name", "handed", "joined_on", "consent"),
    "drills": ("drill_id", "name", "club_group"), "lessons": ("student_id", "bay_id", "starts_at", "ends_at"),
}  # fmt: skip
IDS = {
    "students": ("student_id", "S"),
    "coaches": ("coach_id", "C"),
    "drills": ("drill_id", "D"),
    "sites": ("site_id", "site"),
}
ORDER = ("sites", "bays", "coaches", "students", "drills", "lessons", "drill_log")


@dataclass
class SheetMapping:
    """A mapping with what was thought of it: table -> part, remarks a line each by "table.column", and questions."""

    parts: dict[str, dict[str, Any]] = field(default_factory=dict)
    why: dict[str, str] = field(default_factory=dict)
    questions: dict[str, str] = field(default_factory=dict)

    def toml(self, source: str) -> str:
        """Return the mapping's text."""
        lines = [
            f"# How {source} becomes the academy's tables: proposed by `academy start --from`, yours to correct.",
            '# It is kept and used again every month. "?" is a question: write the answer in its place, run it again.',
        ]
        for table, part in self.parts.items():
            lines += ["", f"[{table}]"]
            lines += [f"{key} = {as_toml(value)}" for key, value in part.items() if key != "columns"]
            lines += [f"[{table}.columns]"]
            for column, value in part["columns"].items():
                key = f"{table}.{column}"
                if key in self.questions:
                    lines.append(f"# QUESTION: {self.questions[key]}")
                elif key in self.why:
                    lines.append(f"# {self.why[key]}")
                lines.append(f"{column} = {as_toml(value)}")
        return "\n".join(lines) + "\n"


def propose(
    sheets: Sequence[OwnSheet], kept: Mapping[str, Any], there: Mapping[str, int], now: dt.datetime
) -> SheetMapping:
    """Return the mapping of sheets.

    Parameters
    ----------
    sheets
        As recognised.
    kept
        The mapping as it stands: whatever is no "?" is kept.
    there
        Table -> rows that the home has already: what is there need not be made out of names.
    now
        Local time, for dates that cannot be.
    """
    made = SheetMapping()
    by_table = {sheet.table: sheet for sheet in sheets if sheet.table}
    for table in ORDER:
        sheet = by_table.get(table)
        if sheet is not None:
            made.parts[table] = {"sheet": sheet.name, "header_row": sheet.header_row, "columns": {}}
            _table(made, table, sheet, now)
        elif table in ("coaches", "bays", "sites", "drill_log") and "lessons" in by_table:
            _out_of_lessons(made, table, by_table["lessons"], there)
    _keep(made, kept)
    for table, part in made.parts.items():
        for column, value in part["columns"].items():
            key = f"{table}.{column}"
            if not _open(value):
                made.questions.pop(key, None)
            elif key not in made.questions:
                made.questions[key] = "what does it mean?"
    return made


def _table(made: SheetMapping, table: str, sheet: OwnSheet, now: dt.datetime) -> None:
    columns, found = made.parts[table]["columns"], sheet.columns
    if table in IDS and IDS[table][0] not in found:
        columns[IDS[table][0]] = {"make": IDS[table][1]}
        made.why[f"{table}.{IDS[table][0]}"] = (
            "no column of ids: they are made, and stay the same when this is run again"
        )
    for column, header in found.items():
        if column in ("first_name", "last_name", "date", "start", "end", "minutes", "notes"):
            continue
        columns[column] = _column(made, table, column, sheet.texts(header), header, now)
    if "first_name" in found and "last_name" in found:
        columns["name"] = {"from": [found["first_name"], found["last_name"]]}
    elif table == "students" and "name" not in found and "last_name" in found:
        columns["name"] = {"from": found["last_name"]}
    if table == "lessons":
        _lesson_times(made, sheet, columns, now)
        if "lesson_id" not in columns:
            columns["lesson_id"] = {"make": "L"}
            made.why["lessons.lesson_id"] = (
                "made of the date, time, bay and student, so the same lesson has the same id"
            )
        for column, known in (("student_id", "students"), ("coach_id", "coaches"), ("bay_id", "bays")):
            if column in columns:
                columns[column] = {**columns[column], "find": known}
    for column in NEEDED.get(table, ()):
        if column not in columns:
            _ask(made, table, column)


def _ask(made: SheetMapping, table: str, column: str) -> None:
    fits = ASKED.get((table, column), ())
    made.parts[table]["columns"][column] = {"value": OPEN}
    answers = f": {' or '.join(fits)}" if fits else ""
    made.questions[f"{table}.{column}"] = (
        f'no column says it; one value for all rows{answers}, or {{ from = "header" }}'
    )


def _column(
    made: SheetMapping, table: str, column: str, texts: list[str], header: str, now: dt.datetime
) -> dict[str, Any]:
    """Return where one column comes from and how it is written."""
    key, filled = f"{table}.{column}", [text for text in texts if text]
    if column in ("joined_on", "born_on"):
        return _date(made, key, header, filled, now)
    if column in VALUES:
        known = {
            bare(word): value
            for value, words in vocabulary()["values"][VALUES[column]].items()
            for word in words.split()
        }
        said = dict.fromkeys(filled)
        mapping = {text: known.get(bare(text).strip(" ."), OPEN) for text in said if text != known.get(bare(text))}
        if OPEN in mapping.values():
            strange = [text for text, value in mapping.items() if value == OPEN]
            fits = list(dict.fromkeys(known.values()))
            made.questions[key] = f"what does '{strange[0]}' mean: {' or '.join(fits)}?"
        return {"from": header, **({"map": mapping} if mapping else {})}
    if column in ("handicap", "altitude_m"):
        comma = any(re.fullmatch(r"[+-]?\d+,\d+", text) for text in filled)
        return {"from": header, **({"decimal": ","} if comma else {})}
    if column == "name" and table in ("students", "coaches"):
        turned = sum("," in text for text in filled) > 0.5 * max(len(filled), 1)
        if turned:
            made.why[key] = f"'{filled[0]}': last name first"
        return {"from": header, **({"names": "last first"} if turned else {})}
    return {"from": header}


def _date(made: SheetMapping, key: str, header: str, filled: list[str], now: dt.datetime) -> dict[str, Any]:
    forms = [form for form in _forms(filled) if not form.clocked]
    possible, why = times.likelier(forms, now)
    if len(possible) > 1:
        read = [f"{form.known[0]:%-d %B %Y} ({form.format})" for form in possible]
        made.questions[key] = f"which day is '{filled[0]}': {' or '.join(read)}?"
        return {"from": header, "date_format": OPEN}
    if not possible or possible[0].format in ("%Y-%m-%d", times.ISO):
        return {"from": header}
    made.why[key] = f"'{filled[0]}' is {possible[0].known[0]:%-d %B %Y}" + (f"; {why}" if why else "")
    return {"from": header, "date_format": possible[0].format}


def _forms(filled: list[str]) -> list[times.TimeForm]:
    """Return the dated forms of texts; real date cells, which read as ISO whatever the others are, aside."""
    written = [text for text in filled if not re.match(r"\d{4}-\d{2}-\d{2}", text)]
    return [form for form in times.forms(written or filled) if form.dated] if filled else []


def _lesson_times(made: SheetMapping, sheet: OwnSheet, columns: dict[str, Any], now: dt.datetime) -> None:
    found = sheet.columns
    sources = [found[one] for one in ("date", "start") if one in found]
    joined = [" ".join(pair).strip() for pair in zip(*(sheet.texts(one) for one in sources), strict=True)]
    columns["starts_at"] = _moment(made, "lessons.starts_at", sources, [text for text in joined if text], now)
    if "end" in found:
        value = {**columns["starts_at"], "from": [found["date"], found["end"]] if "date" in found else found["end"]}
        columns["ends_at"] = value
    elif "minutes" in found:
        columns["ends_at"] = {"minutes": found["minutes"]}
        made.why["lessons.ends_at"] = f"the start and the minutes under '{found['minutes']}'"
    else:
        columns["ends_at"] = {"minutes": OPEN}
        made.questions["lessons.ends_at"] = (
            "no column says when a lesson ends: how many minutes is one, or which column?"
        )


def _moment(made: SheetMapping, key: str, sources: list[str], filled: list[str], now: dt.datetime) -> dict[str, Any]:
    forms = [form for form in _forms(filled) if form.clocked]
    possible, why = times.likelier(forms, now + dt.timedelta(days=400))
    value: dict[str, Any] = {"from": sources if len(sources) > 1 else sources[0]}
    if not possible:
        made.questions[key] = f"how is '{filled[0] if filled else ''}' written, as a strptime format?"
        return {**value, "date_format": OPEN}
    if len(possible) > 1:
        read = [f"{form.known[0]:%-d %B %Y} ({form.format})" for form in possible]
        made.questions[key] = f"which day is '{filled[0]}': {' or '.join(read)}?"
        return {**value, "date_format": OPEN}
    if possible[0].format == times.ISO:
        return value
    made.why[key] = f"'{filled[0]}' is {possible[0].known[0]:%-d %B %Y %H:%M}" + (f"; {why}" if why else "")
    return {**value, "date_format": possible[0].format}


def _out_of_lessons(made: SheetMapping, table: str, lessons: OwnSheet, there: Mapping[str, int]) -> None:
    """Add a table that has no sheet: coaches and bays as lessons name them, one site, drills as notes name them."""
    found = lessons.columns
    part = {"sheet": lessons.name, "header_row": lessons.header_row, "distinct": True, "columns": {}}
    if table == "coaches" and "coach_id" in found and not there.get("coaches"):
        part["columns"] = {"coach_id": {"make": "C"}, "name": {"from": found["coach_id"]}}
        made.why["coaches.coach_id"] = "there is no sheet of coaches: they are those that lessons name"
    elif table == "bays" and "bay_id" in found and not there.get("bays"):
        part["columns"] = {"bay_id": {"from": found["bay_id"]}}
        made.parts[table] = part
        for column in NEEDED["bays"][1:]:
            if column == "site_id" and not there.get("sites"):
                part["columns"]["site_id"] = {"value": "site01"}
            else:
                _ask(made, table, column)
    elif table == "sites" and not there.get("sites"):
        part = {"columns": {"site_id": {"value": "site01"}}}
        made.parts[table] = part
        for column in NEEDED["sites"][1:]:
            _ask(made, table, column)
    elif table == "drill_log" and "notes" in found:
        part.pop("distinct")
        part["columns"] = {"lesson_id": {"as": "lessons"}, "drill_id": {"text": found["notes"]}}
        made.why["drill_log.drill_id"] = "drills whose name stands in the notes; no times, so no block is cut from them"
    if part["columns"]:
        made.parts[table] = part


def _keep(made: SheetMapping, kept: Mapping[str, Any]) -> None:
    """Put what a person wrote over what is proposed, "?" aside."""
    for table, part in kept.items():
        if table not in made.parts:
            if not _open(part):
                made.parts[table] = dict(part)
            continue
        for key, value in part.items():
            if key != "columns" and not _open(value):
                made.parts[table][key] = value
        for column, value in part.get("columns", {}).items():
            proposed = made.parts[table]["columns"].get(column)
            if not _open(value):
                made.parts[table]["columns"][column] = value
            elif isinstance(value, dict) and isinstance(proposed, dict) and isinstance(proposed.get("map"), dict):
                answered = {text: meant for text, meant in value.get("map", {}).items() if meant != OPEN}
                proposed["map"] = {**proposed["map"], **answered}


def _open(value: Any) -> bool:
    if isinstance(value, dict):
        return any(_open(part) for part in value.values())
    return any(_open(part) for part in value) if isinstance(value, list) else value == OPEN
