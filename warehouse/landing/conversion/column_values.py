"""SQL for one value of a converted row: what the file says, the number in canonical unit, club, student and moment.

Not here: the statement that puts them together, and what is a fault (convert_sql.py).
"""

from __future__ import annotations

import re
from math import gcd

from warehouse.landing.conversion import written_numbers
from warehouse.landing.conversion.read_plan import ZONE, Reading
from warehouse.landing.conversion.timestamps import by_zone, parsed, parsed_as_written
from warehouse.landing.lines import normalise_lines
from warehouse.landing.profile.profile import scale_of
from warehouse.schema.declaration import quoted
from warehouse.schema.metrics import CLUBS, EXPORTED_BY_NAME

NUMERIC_TYPES = ("DOUBLE", "FLOAT", "DECIMAL", "TINYINT", "SMALLINT", "INTEGER", "BIGINT", "HUGEINT", "UTINYINT",
                 "USMALLINT", "UINTEGER", "UBIGINT")  # fmt: skip
PLAIN_NUMBER = re.compile(r"^[+-]?[0-9]+(\.[0-9]+)?$")


def said(reading: Reading, name: str) -> str:
    """Return SQL for one mapped column as the file says it: null where a null token stands, no blanks around."""
    place = reading.mapped.get(name)
    if place is None:
        return "null::varchar"
    nulls = sorted({"", *(token.strip() for token in reading.profile.file.nulls)})
    if reading.format == "parquet":
        column, kind = f"c{place}", reading.types[place - 1]
        if kind in ("DOUBLE", "FLOAT") and "nan" in (token.lower() for token in nulls):
            return f"case when not isnan({column}) then {column} end"
        if kind.startswith((*NUMERIC_TYPES, "TIMESTAMP")) and not kind.endswith("]"):
            return column
        field = f"{column}::varchar"
    else:
        field = f"f[{place}]"
        if reading.clean and place in (reading.mapped.get("student_id"), reading.mapped.get("club")):
            field = f"replace({field}, {quoted(normalise_lines.NEWLINE)}, chr(10))"
    trimmed = f"trim({field})"
    for token in nulls:
        trimmed = f"nullif({trimmed}, {quoted(token)})"
    if reading.cells and name in EXPORTED_BY_NAME:
        told = f"try_cast(replace({trimmed}, {quoted(reading.profile.file.decimal)}, '.') as double)"
        for value in sorted({float(token) for token in nulls if PLAIN_NUMBER.match(token)}):
            trimmed = f"case when {told} is distinct from {value!r} then {trimmed} end"
    return trimmed


def number(reading: Reading, name: str) -> str:
    """Return SQL for a metric as a plain number in the file's unit; null where it is none."""
    place = reading.mapped.get(name)
    text = f"said_{name}"
    if place is None:
        return "null::double"
    if reading.cells:
        return written_numbers.number(text, name, reading.profile.columns[name], reading.profile.file)
    if reading.format == "parquet" and reading.types[place - 1].startswith(NUMERIC_TYPES):
        return f"{text}::double"
    if reading.profile.file.decimal == ",":
        return f"case when not contains({text}, '.') and not contains({text}, '_') then " + (
            f"try_cast(replace({text}, ',', '.') as double) end"
        )
    return f"case when not contains({text}, '_') then try_cast({text} as double) end"


def canonical(reading: Reading, name: str) -> str:
    """Return SQL for a metric in canonical unit and sign; null where it is no finite number."""
    if name not in reading.profile.columns:
        return "null::double"
    times, over, plus = scale_of(name, reading.profile.columns[name])
    common = gcd(times, over, plus)
    times, over, plus = times // common, over // common, plus // common
    value = f"number_{name}" if times == 1 else f"number_{name} * {times}"
    value = value if plus == 0 else f"({value} + {plus})"
    value = value if over == 1 else f"{value} / {over}"
    return f"case when isfinite(number_{name}) then {value} end"


def _mapped_text(text: str, mapping: dict[str, str] | None, other: str) -> str:
    if not mapping:
        return other
    cases = " ".join(f"when {quoted(key.strip())} then {quoted(value)}" for key, value in mapping.items())
    return f"case {text} {cases} else {other} end"


def club(reading: Reading) -> str:
    if reading.profile.columns["club"].spelling == "any":
        return f"case when said_club is not null then {reading.read_from('club')} end"
    mapping = reading.profile.columns["club"].map
    known = ", ".join(quoted(club) for club in CLUBS)
    itself = f"case when said_club in ({known}) then said_club end"
    return _mapped_text("said_club", mapping, "null" if mapping else itself)


def student(reading: Reading) -> str:
    source = reading.profile.columns.get("student_id")
    if source and source.lookup != "id":
        return "said_student_id"
    return _mapped_text("said_student_id", source.map if source else None, "said_student_id")


def moment(reading: Reading) -> tuple[str, str]:
    """Return SQL (naive, absolute) for when the ball was struck."""
    shape = reading.profile.file
    if not reading.cells:
        kind = reading.types[reading.mapped["struck_at"] - 1] if reading.types else "VARCHAR"
        form = shape.timestamp_format
        return parsed("said_struck_at", kind, form if isinstance(form, str) else None)
    read = f"case when said_struck_at is not null then {reading.read_from('struck_at')} end"
    naive, absolute = parsed_as_written(read, shape.formats, typed=shape.format == "workbook")
    zone = reading.read_from(ZONE)
    return by_zone(naive, absolute, zone) if zone else (naive, absolute)
