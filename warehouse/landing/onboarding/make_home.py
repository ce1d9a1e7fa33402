"""An empty home for a real academy: settings, header-only tables and a sample profile, or its own lists taken over.

What is there already is never overwritten. Not here: what the tables must satisfy (reference.py).
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path

from warehouse.landing.onboarding import duplicate_people, import_workbook, take_over
from warehouse.landing.profile.units import SIGNS, UNITS
from warehouse.landing.reference import read_csv
from warehouse.landing.reference.read_csv import file_name
from warehouse.schema.metrics import CLUBS, EXPORTED
from warehouse.schema.raw import REFERENCE_TABLES, STUDENT

SAMPLE_NAME = "sample.toml"


def start(
    home: Path, settings: str, source: Path | None, mapping: Path | None, take: Sequence[str] = (), look: bool = False
) -> tuple[int, list[str]]:
    """Make a home, or take a workbook over; return the exit code and what is to be said.

    A source whose sheets are named like the tables, or a mapping without header rows, is taken as it is, once; any
    other goes through take_over.py, the first time and every month.

    Raises
    ------
    ValueError
        The source or the mapping cannot be used; nothing is written then.
    """
    if source is None or _is_plain(home, source, mapping):
        return 0, make_home(home, settings, source=source, mapping=mapping)
    done = take_over.take_over(home, source, mapping=mapping, take=take, look=look)
    made = [] if look or done.outcome else make_home(home, settings)
    return done.outcome, [*done.lines, *(line for line in made if line.startswith("made"))]


def _is_plain(home: Path, source: Path, mapping: Path | None) -> bool:
    """Return whether a source is one of the tables' own shape, or is described by a plain mapping."""
    if mapping is not None:
        return mapping.exists() and "header_row" not in mapping.read_text(encoding="utf-8-sig")
    if (home / take_over.MAPPING_FILE).exists() or source.suffix.lower() not in (".xlsx", ".csv", ""):
        return False
    try:
        return bool(import_workbook.take(source, None))
    except ValueError:
        return False


def make_home(home: Path, settings: str, *, source: Path | None = None, mapping: Path | None = None) -> list[str]:
    """Make a home's folders and files; return what was made, kept and found, a line each.

    Parameters
    ----------
    home
        The home folder; made if it is not there.
    settings
        Text of academy.toml.
    source
        A workbook (.xlsx), a CSV file or a folder of CSV files to take tables from.
    mapping
        TOML saying which sheet or file, and which of its columns, is which table and column; without it those whose
        names agree with the tables' are taken.

    Raises
    ------
    ValueError
        The source or the mapping cannot be used; nothing is written then.
    """
    taken = import_workbook.take(source, mapping) if source else {}
    academy = home / "landing" / "academy"
    _refuse_to_overwrite(academy, taken)
    said: list[str] = []
    for folder in (academy, home / "landing" / "profiles", home / "landing" / "inbox", home / "landing" / "shots"):
        folder.mkdir(parents=True, exist_ok=True)
    _write_new(home / "academy.toml", settings, home, said)
    for table in REFERENCE_TABLES:
        columns = [name for name in table.column_names if name != "line"]
        path = academy / file_name(table)
        if table.name in taken:
            _write_table(path, columns, taken[table.name])
            said.append(f"made {path.relative_to(home)} with {len(taken[table.name]):,} rows")
        else:
            _write_new(path, ",".join(columns) + "\n", home, said)
    _write_new(home / "landing" / "profiles" / SAMPLE_NAME, sample_profile(), home, said)
    return said + _findings(academy, taken)


def _refuse_to_overwrite(academy: Path, taken: import_workbook.Tables) -> None:
    for table in REFERENCE_TABLES:
        path = academy / file_name(table)
        if table.name in taken and path.exists() and len(path.read_bytes().splitlines()) > 1:
            raise ValueError(f"{path} holds rows already: move it away first, nothing was written")


def _write_new(path: Path, text: str, home: Path, said: list[str]) -> None:
    if path.exists():
        said.append(f"kept {path.relative_to(home)} as it is")
        return
    path.write_text(text, encoding="utf-8")
    said.append(f"made {path.relative_to(home)}")


def _write_table(path: Path, columns: list[str], rows: list[dict[str, str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def _findings(academy: Path, taken: import_workbook.Tables) -> list[str]:
    """Return what is wrong in the tables taken over, and students that may be in the list twice."""
    said: list[str] = []
    for table in REFERENCE_TABLES:
        if table.name in taken:
            content = read_csv.read(academy / file_name(table), table)
            said += [f"to correct: {fault}" for fault in (*content.fatal, *content.spoiled)]
    for one, other in duplicate_people.likely_duplicates(taken.get(STUDENT.name, [])):
        said.append(
            f"perhaps one person twice: {one.get('student_id')} {one['name']} and {other.get('student_id')} "
            f"{other['name']}, born {one.get('born_on') or 'unknown'} and {other.get('born_on') or 'unknown'}; "
            "decide by hand, nothing was merged"
        )
    return said


def sample_profile() -> str:
    """Return a commented profile that names every column, with a unit and sign to change."""
    signs = ", ".join(f"{plus} or {minus}" for plus, minus in SIGNS.values())
    lines = [
        "# How one kind of export is read. Copy it, name the copy as bays.csv does in export_profile, and write under",
        "# `from` the headers your bays use. `academy check-exports` tries it on real files.",
        'name = "sample"',
        "",
        "[file]",
        'format = "csv"            # csv | parquet | jsonl',
        'delimiter = ","',
        'decimal = "."',
        'encoding = "utf-8"        # utf-8, utf-16, latin-1, cp1252 ...',
        "skip_rows = 0             # lines above the header",
        'nulls = ["", "-"]',
        '# timestamp_format = "%d.%m.%Y %H:%M:%S"   # without it: ISO 8601',
        'timezone = "site"         # or an IANA name such as "UTC"',
        "",
        "[columns]",
        f"# units: {', '.join(UNITS)}",
        f"# positive, which way is plus: {signs}",
        f"# clubs: {', '.join(CLUBS)}",
        'struck_at = { from = "struck_at" }',
        'student_id = { from = "student_id", optional = true }',
        'club = { from = "club" }  # or with map = { "Wood 1" = "driver" }',
    ]
    for number in EXPORTED:
        optional = "" if number.required else ", optional = true"
        lines.append(f'{number.name} = {{ from = "{number.name}", unit = "{number.unit}"{optional} }}')
    return "\n".join(lines) + "\n"
