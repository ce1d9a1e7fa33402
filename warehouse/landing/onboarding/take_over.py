"""An academy's own workbook taken over, the first time and every month: mapped, made into rows, looked at, written.

Nothing is written into the tables while a question is open or a row is at fault. Not here: each of these steps.
"""

from __future__ import annotations

import datetime as dt
import shutil
import tempfile
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from warehouse.landing.onboarding import merge_rows, own_rows, own_sheets, propose_mapping
from warehouse.landing.onboarding.duplicate_people import likely_duplicates
from warehouse.landing.onboarding.merge_rows import BY_NAME, Merged
from warehouse.landing.reference import load as reference
from warehouse.landing.reference.read_csv import file_name
from warehouse.schema.raw import REFERENCE_TABLES

MAPPING_FILE = "workbook.toml"
SHOWN = 3
MOST_FAULTS = 30


@dataclass
class TakenOver:
    """What became of a workbook: exit code (0 written, 3 questions, 2 faults) and lines for a person."""

    outcome: int = 0
    lines: list[str] = field(default_factory=list)


def take_over(
    home: Path, source: Path, *, mapping: Path | None = None, take: Sequence[str] = (), look: bool = False,
    now: dt.datetime | None = None,
) -> TakenOver:  # fmt: skip
    """Take an academy's own workbook over.

    Parameters
    ----------
    home
        The academy's home; its tables are made header-only where there are none.
    source
        A workbook, a CSV file, or a folder of them.
    mapping
        The mapping's file; HOME/workbook.toml without it. It is written anew with what was proposed beside what stood.
    take
        "table.column" in which the workbook wins over what the home holds.
    look
        Only show what would be written.
    now
        Local time.

    Raises
    ------
    ValueError
        The source or the mapping cannot be read, or holds no sheet that is known.
    """
    path, done = mapping or home / MAPPING_FILE, TakenOver()
    kept = _kept(path)
    sheets = own_sheets.read_sheets(source)
    academy = home / "landing" / "academy"
    there = {name: merge_rows.read_table(academy, table)[1] for name, table in BY_NAME.items()}
    made = propose_mapping.propose(
        sheets, kept, {name: len(rows) for name, rows in there.items()}, now or dt.datetime.now()
    )
    if not made.parts:
        names = ", ".join(sheet.name for sheet in sheets) or "none with a header"
        raise ValueError(
            f"no sheet of {source.name} looks like students, lessons, coaches, bays or drills (sheets: {names})"
        )
    done.lines += [_sheet_line(table, part) for table, part in made.parts.items()]
    done.lines += [f"not used: sheet '{sheet.name}'" for sheet in sheets if sheet.table is None and sheet.name not in
                   [part.get("sheet") for part in made.parts.values()]]  # fmt: skip
    if not look:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(made.toml(source.name), encoding="utf-8")
    if made.questions:
        done.outcome = 3
        done.lines += [f"question: {key}: {text}" for key, text in made.questions.items()]
        done.lines.append(f"{len(made.questions)} questions are left in {path}: answer there and run this again; "
                          "no table was written")  # fmt: skip
        return done
    rows = own_rows.make_rows(sheets, made.parts, there)
    merged = {name: merge_rows.merge(name, academy, rows.rows[name], take) for name in BY_NAME if name in rows.rows}
    faults = [*rows.faults, *_faults(academy, merged)]
    done.lines += _shown(merged, rows)
    if faults:
        done.outcome = 2
        done.lines += [f"to correct: {fault}" for fault in faults[:MOST_FAULTS]]
        done.lines.append(f"{len(faults)} faults: correct them in the workbook or in {path}; no table was written")
        return done
    done.lines += _twins(merged)
    if look:
        done.lines.append("nothing was written: this was a look")
    else:
        _write(academy, merged)
        changed = [file_name(BY_NAME[name]) for name, table in merged.items() if table.changed]
        done.lines.append(f"wrote {', '.join(changed)}" if changed else "nothing is new: no table was changed")
    return done


def _kept(path: Path) -> dict[str, Any]:
    if not path.exists():
        return {}
    try:
        return tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except (ValueError, UnicodeDecodeError) as fault:
        raise ValueError(f"{path.name} is not TOML ({fault}): correct it, or move it away") from None


def _sheet_line(table: str, part: dict[str, Any]) -> str:
    columns = ", ".join(f"{column} from {_source(how)}" for column, how in part["columns"].items())
    return f"{table}: sheet '{part.get('sheet', 'none')}': {columns}"


def _source(how: Any) -> str:
    if not isinstance(how, dict):
        return f"'{how}'"
    if "from" in how:
        return " + ".join(f"'{one}'" for one in (how["from"] if isinstance(how["from"], list) else [how["from"]]))
    return next((f"{key} '{how[key]}'" for key in ("minutes", "text", "value") if key in how), "what is made")


def _shown(merged: dict[str, Merged], rows: own_rows.Made) -> list[str]:
    """Return what would be written: new rows, filled cells, differences, and sentences in which drills were found."""
    lines = []
    for name, table in merged.items():
        more = f", {table.filled} empty cells filled" if table.filled else ""
        more += f", {table.taken} cells taken from the workbook" if table.taken else ""
        more += f", {table.gone} rows here are not in the workbook and stay" if table.gone else ""
        lines.append(f"{file_name(BY_NAME[name])}: {len(table.added)} new rows{more}")
        lines += ["  " + ",".join(row.get(column, "") for column in table.header) for row in table.added[:SHOWN]]
        lines += [f"  differs: {said}" for said in table.differing[:SHOWN]]
        if len(table.differing) > SHOWN:
            lines.append(
                f"  ... {len(table.differing) - SHOWN} more cells differ; --take {name}.COLUMN takes the workbook's"
            )
    lines += [f"  drill found: {sentence}" for sentence in rows.sentences[: 2 * SHOWN]]
    return lines


def _faults(academy: Path, merged: dict[str, Merged]) -> list[str]:
    """Return what would be wrong with the tables, by the rules of a night."""
    with tempfile.TemporaryDirectory(prefix="take-over-") as scratch:
        staged = Path(scratch) / "landing" / "academy"
        staged.mkdir(parents=True)
        for table in REFERENCE_TABLES:
            name = file_name(table)
            if (academy / name).exists():
                shutil.copyfile(academy / name, staged / name)
            else:
                (staged / name).write_text(",".join(one for one in table.column_names if one != "line") + "\n")
        for name, rows in merged.items():
            (staged / file_name(BY_NAME[name])).write_text(rows.text(), encoding="utf-8")
        try:
            contents = reference.read_all(staged.parent)
        except reference.ReferenceTablesError as fault:
            return [str(one) for one in fault.faults]
        return [str(one) for content in contents.values() for one in content.spoiled]


def _twins(merged: dict[str, Merged]) -> list[str]:
    pairs = likely_duplicates(merged["students"].rows) if "students" in merged else []
    return [f"perhaps one person twice: {one['student_id']} and {other['student_id']}, {one['name']}; decide by hand, "
            "nothing was merged" for one, other in pairs]  # fmt: skip


def _write(academy: Path, merged: dict[str, Merged]) -> None:
    """Write the tables that changed, each by one rename."""
    academy.mkdir(parents=True, exist_ok=True)
    for name, table in merged.items():
        if table.changed:
            path = academy / file_name(BY_NAME[name])
            beside = path.with_suffix(".csv.part")
            beside.write_text(table.text(), encoding="utf-8")
            beside.replace(path)
