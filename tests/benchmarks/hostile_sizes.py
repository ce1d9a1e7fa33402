"""How long one export of a hostile size keeps a night busy, each in a process of its own with a clock.

`python -m tests.benchmarks.hostile_sizes [MEGABYTES [SECONDS]]`: a table of what each file costs and how it ended, by
size; a file that is worse than linear shows by its ratio. Files are made here: a good row, the rest as bad as can be.
"""

from __future__ import annotations

import gzip
import io
import subprocess
import sys
import tempfile
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

MEGABYTE = 1_000_000
HEADER = "time,who,club,ball,launch,carry\n"
ROW = "2024-02-19T10:00:01,007,driver,60,12,200\n"
SHEET = (
    '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>{}</sheetData></worksheet>'
)
BOOK = (
    '<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.'
    'org/officeDocument/2006/relationships"><sheets><sheet name="S" sheetId="1" r:id="rId1"/></sheets></workbook>'
)
RELATIONS = (
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="'
    'http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/>'
    "</Relationships>"
)


def times(line: str, size: int) -> bytes:
    """Return a header, a good row, and a line again and again up to a size."""
    return (HEADER + ROW + line * (size // len(line))).encode()


def workbook(cells: str) -> bytes:
    """Return a workbook whose one sheet holds these cells, as XML."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as book:
        book.writestr("_rels/.rels", RELATIONS.replace("worksheets/sheet1.xml", "xl/workbook.xml").replace(
            "/worksheet\"", "/officeDocument\""))  # fmt: skip
        book.writestr("xl/workbook.xml", BOOK)
        book.writestr("xl/_rels/workbook.xml.rels", RELATIONS)
        book.writestr("xl/worksheets/sheet1.xml", SHEET.format(cells))
    return held.getvalue()


CASES: dict[str, tuple[str, Callable[[int], bytes]]] = {
    "carriage returns only": ("01.csv", lambda size: HEADER.encode() + b"\r" * size),
    "carriage returns, packed": ("01.csv.gz", lambda size: gzip.compress(HEADER.encode() + b"\r" * size)),
    "one line": ("01.csv", lambda size: HEADER.encode() + b"x" * size),
    "one line of separators": ("01.csv", lambda size: HEADER.encode() + b"," * size),
    "one quoted line": ("01.csv", lambda size: HEADER.encode() + b'"' + b"x" * size),
    "quotes alone": ("01.csv", lambda size: HEADER.encode() + b'"' * size),
    "a quote opened on every line": ("01.csv", lambda size: times('"a","b\n', size)),
    "many quotes opened on long lines": ("01.csv", lambda size: times('"a",' * 8_000 + '"b\n', size)),
    "line ends only": ("01.csv", lambda size: HEADER.encode() + b"\n" * size),
    "lines at the longest": ("01.csv", lambda size: times('"' + "x" * 65_000 + '"\n', size)),
    "a header of names": ("01.csv", lambda size: (HEADER.strip() + ",n" * (size // 2) + "\n" + ROW).encode()),
    "control characters": ("01.csv", lambda size: times("\x01" * 60_000 + "\n", size)),
    "broken UTF-8": ("01.csv", lambda size: HEADER.encode() + b"\xff\n" * (size // 2)),
    "nested JSON": ("03.jsonl", lambda size: b"[" * size),
    "JSON objects without keys": ("03.jsonl", lambda size: b"{}\n" * (size // 3)),
    "a JSON key a line": ("03.jsonl", lambda size: b"".join(b'{"k%d":1}\n' % n for n in range(size // 14))),
    "zeros, packed": ("01.csv.gz", lambda size: gzip.compress(HEADER.encode() + b"\0" * size)),
    "numbers of thousands of digits": ("01.csv", lambda size: times(ROW.replace("200", "9" * 60_000), size)),
    "a workbook, first and last cell": ("04.xlsx", lambda size: workbook(
        '<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="XFD1048576"><v>1</v></c></row>')),
    "a workbook of zeros, packed": ("04.xlsx", lambda size: workbook("<row>" + "0" * size * 4 + "</row>")),
}  # fmt: skip
PROFILES = {
    "01": "",
    "03": '[file]\nformat = "jsonl"\n',
    "04": '[file]\nformat = "workbook"\n',
}


def load(folder: Path) -> str:
    """Bring the one export of a landing folder in; return what became of it."""
    from tests.warehouse.landing.conftest import PLAIN, TABLES, Academy

    academy = Academy(folder)
    bays = "".join(f"{bay},N,p{bay},indoor,range\n" for bay in PROFILES)
    academy.table("bays", TABLES["bays"].splitlines()[0] + "\n" + bays)
    for bay, file in PROFILES.items():
        academy.profile(f"p{bay}", file + PLAIN)
    summary = academy.night()
    (outcome,) = summary.outcomes
    return f"{outcome.status}, {outcome.counts.loaded} of {outcome.counts.read} rows: {outcome.reason or ''}"[:110]


def measure(name: str, content: bytes, seconds: float) -> tuple[float, str]:
    """Return processor seconds and outcome of one export in a process of its own, given up after `seconds`."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "landing" / "shots" / "2024-02-19" / name
        path.parent.mkdir(parents=True)
        path.write_bytes(content)
        began = time.monotonic()
        command = [sys.executable, "-m", "tests.benchmarks.hostile_sizes", "--one", folder]
        try:
            done = subprocess.run(command, capture_output=True, text=True, timeout=seconds, check=False)
        except subprocess.TimeoutExpired:
            return time.monotonic() - began, "GIVEN UP: still at work"
    said = done.stdout.strip().splitlines()
    if done.returncode or not said:
        return time.monotonic() - began, f"ENDED BY {done.returncode}: {done.stderr.strip()[-80:]}"
    spent, _, outcome = said[-1].partition(" ")
    return float(spent), outcome


def main() -> None:
    """Print the table."""
    if sys.argv[1:2] == ["--one"]:
        from tests.warehouse.landing import conftest  # noqa: F401  (what the program itself loads is not counted)

        began = time.process_time()
        outcome = load(Path(sys.argv[2]))
        print(f"{time.process_time() - began:.2f} {outcome}")
        return
    size = int(float(sys.argv[1]) * MEGABYTE) if len(sys.argv) > 1 else 4 * MEGABYTE
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 60
    print(f"{'file':34} {size / MEGABYTE:6g} MB {2 * size / MEGABYTE:6g} MB   ended")
    for name, (file, make) in CASES.items():
        first, _ = measure(file, make(size), seconds)
        second, ended = measure(file, make(2 * size), seconds)
        print(f"{name:34} {first:7.2f} s {second:7.2f} s   {ended}", flush=True)


if __name__ == "__main__":
    main()
