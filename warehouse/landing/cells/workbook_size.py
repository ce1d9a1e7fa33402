"""How large a workbook is once unpacked, looked at before it is opened: a small one can ask for all of a machine.

Two ways: parts that unpack to a thousand times their size, and a cell at the far end of a sheet, for which every cell
between is kept in memory. Not here: what the sheets say (workbook.py).
"""

from __future__ import annotations

import re
import zipfile
import zlib
from pathlib import Path

from warehouse.landing.lines.byte_scan import SLICE, RefusedError, check_unpacked
from warehouse.settings.settings import Limits

CELL_BYTES = 32
"""What an empty cell between two others takes in memory, about."""
OVERLAP = 64
"""Bytes of a slice that are looked at again with the next, so that a reference cut in two is met."""
ROW_OR_CELL = re.compile(rb'<(?:\w+:)?(?:c|row)\s[^>]*?\br="([A-Z]{0,3})(\d{1,7})"')
REPEATED = re.compile(rb'number-(rows|columns)-repeated="(\d{1,9})"[^>]*?office:value')


def check_workbook(path: Path, limits: Limits) -> None:
    """Refuse a packed workbook that is too large once it is unpacked.

    Raises
    ------
    RefusedError
        It grows beyond measure, its cells lie too far apart, or its packing is broken.
    """
    if not zipfile.is_zipfile(path):
        return
    packed, total, cells = path.stat().st_size, 0, 0
    try:
        with zipfile.ZipFile(path) as book:
            for part in book.infolist():
                last_row, last_column, tail = 0, 0, b""
                with book.open(part) as source:
                    while piece := source.read(SLICE):
                        total += len(piece)
                        check_unpacked(total, packed, limits)
                        row, column = _farthest(tail + piece)
                        last_row, last_column = max(last_row, row), max(last_column, column)
                        tail = piece[-OVERLAP:]
                cells += last_row * last_column
                check_unpacked(cells * CELL_BYTES, limits.file_megabytes * 1_000_000, limits)
    except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError) as fault:
        raise RefusedError(f"is no whole workbook ({fault}): save it as .xlsx or .ods again") from None


def _farthest(text: bytes) -> tuple[int, int]:
    """Return the last row and column that a slice of a sheet names or repeats a value over."""
    row = column = 0
    for letters, number in ROW_OR_CELL.findall(text):
        row, at = max(row, int(number)), 0
        for letter in letters:
            at = at * 26 + letter - ord("A") + 1
        column = max(column, at)
    for what, number in REPEATED.findall(text):
        row, column = (max(row, int(number)), column) if what == b"rows" else (row, max(column, int(number)))
    return row, column
