"""The SQL that turns what an export says into canonical shots, each row with its first fault.

One statement serves every format: text is split into fields, parquet columns are taken as they are (named c1, c2 ... by
their place), and from there on units, signs, time zones, clubs and the order of faults are the same. Not here: running
it (bulk_read.py).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import gcd

from warehouse.landing.exports import normalise_lines
from warehouse.landing.exports.header import Header, plain, positions
from warehouse.landing.exports.timestamps import local_and_utc, parsed
from warehouse.landing.profile.profile import REQUIRED, Profile, scale_of
from warehouse.schema.declaration import quoted
from warehouse.schema.metrics import AIR, CLUBS, EXPORTED_BY_NAME, MEASURED

NUMERIC_TYPES = ("DOUBLE", "FLOAT", "DECIMAL", "TINYINT", "SMALLINT", "INTEGER", "BIGINT", "HUGEINT", "UTINYINT",
                 "USMALLINT", "UINTEGER", "UBIGINT")  # fmt: skip
UNPARSABLE, MISSING, OUTSIDE, OTHER_NIGHT, UNKNOWN_CLUB = (
    "unparsable", "missing", "outside limits", "outside its night", "unknown club"
)  # fmt: skip


@dataclass(frozen=True)
class Fault:
    """One way a row can be rejected: its test in SQL, and what is said of it.

    `detail` may hold {canonical} (the number in canonical units), {local} (the local time), {night} and {fields}.
    """

    reason: str
    column: str | None
    test: str
    detail: str


@dataclass(frozen=True)
class Reading:
    """How one group of exports is read: all share profile, header, delimiter and site zone."""

    profile: Profile = field(compare=False)
    shown: str
    header: Header
    delimiter: str
    types: tuple[str, ...]
    timezone: str

    @property
    def format(self) -> str:
        """Return csv, parquet or jsonl."""
        return self.profile.file.format

    @property
    def clean(self) -> bool:
        """Return whether clean copies are read instead of the exports themselves."""
        return self.delimiter == normalise_lines.FIELD

    @property
    def numbers(self) -> tuple[str, ...]:
        """Return the numbers that are converted: every metric, and of the air what the profile names."""
        return (*(metric.name for metric in MEASURED), *(air.name for air in AIR if air.name in self.profile.columns))

    @property
    def mapped(self) -> dict[str, int]:
        """Return canonical name -> place of its field (from 1) for the columns that are there."""
        if self.format == "jsonl":
            return {name: place for place, name in enumerate(self.profile.columns, start=1)}
        header = Header(tuple(plain(name) for name in self.header.names)) if self.format == "parquet" else self.header
        return {name: place + 1 for name, place in positions(header, self.profile).items()}


def identifier(name: str) -> str:
    """Return a quoted SQL identifier."""
    return '"' + name.replace('"', '""') + '"'


def fields(reading: Reading, text: str = "text") -> str:
    """Return SQL for the list of a row's fields as text; of parquet only the mapped ones hold anything."""
    if reading.format == "parquet":
        places = set(reading.mapped.values())
        columns = range(1, len(reading.header.names) + 1)
        return "[" + ", ".join(f"c{place}::varchar" if place in places else "null" for place in columns) + "]"
    if reading.format == "jsonl":
        keys = (source.source.replace("\\", "\\\\").replace('"', '\\"') for source in reading.profile.columns.values())
        paths = ", ".join(quoted(f'$."{key}"') for key in keys)
        return f"case when {json_object(text)} then json_extract_string({text}, [{paths}]) end"
    return f"string_split({text}, {quoted(reading.delimiter)})"


def json_object(text: str) -> str:
    """Return SQL for whether a text is one JSON object."""
    return f"coalesce(case when json_valid({text}) then json_type({text}) = 'OBJECT' end, false)"


def _said(reading: Reading, place: int | None) -> str:
    """Return SQL for one mapped column as the file says it: null where a null token stands, no blanks around."""
    if place is None:
        return "null::varchar"
    nulls = sorted({"", *(token.strip() for token in reading.profile.file.nulls)})
    if reading.format == "parquet":
        name, kind = f"c{place}", reading.types[place - 1]
        if kind in ("DOUBLE", "FLOAT") and "nan" in (token.lower() for token in nulls):
            return f"case when not isnan({name}) then {name} end"
        if kind.startswith((*NUMERIC_TYPES, "TIMESTAMP")) and not kind.endswith("]"):
            return name
        field = f"{name}::varchar"
    else:
        field = f"f[{place}]"
        if reading.clean and place in (reading.mapped.get("student_id"), reading.mapped.get("club")):
            field = f"replace({field}, {quoted(normalise_lines.NEWLINE)}, chr(10))"
    trimmed = f"trim({field})"
    for token in nulls:
        trimmed = f"nullif({trimmed}, {quoted(token)})"
    return trimmed


def _number(reading: Reading, name: str) -> str:
    """Return SQL for a metric as a plain number in the file's unit; null where it is none."""
    place = reading.mapped.get(name)
    said = f"said_{name}"
    if place is None:
        return "null::double"
    if reading.format == "parquet" and reading.types[place - 1].startswith(NUMERIC_TYPES):
        return f"{said}::double"
    if reading.profile.file.decimal == ",":
        return f"case when not contains({said}, '.') and not contains({said}, '_') then " + (
            f"try_cast(replace({said}, ',', '.') as double) end"
        )
    return f"case when not contains({said}, '_') then try_cast({said} as double) end"


def _canonical(reading: Reading, name: str) -> str:
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


def _mapped_text(said: str, mapping: dict[str, str] | None, other: str) -> str:
    if not mapping:
        return other
    cases = " ".join(f"when {quoted(key.strip())} then {quoted(value)}" for key, value in mapping.items())
    return f"case {said} {cases} else {other} end"


def _club(reading: Reading) -> str:
    mapping = reading.profile.columns["club"].map
    known = ", ".join(quoted(club) for club in CLUBS)
    itself = f"case when said_club in ({known}) then said_club end"
    return _mapped_text("said_club", mapping, "null" if mapping else itself)


def _student(reading: Reading) -> str:
    source = reading.profile.columns.get("student_id")
    return _mapped_text("said_student_id", source.map if source else None, "said_student_id")


def _time_said(reading: Reading) -> str:
    return f"'{reading.profile.file.timestamp_format}'" if reading.profile.file.timestamp_format else "ISO 8601"


def faults(reading: Reading) -> list[Fault]:
    """Return every way a row of these exports can be rejected, in the order in which the first counts."""
    mapped, shown, shape = reading.mapped, reading.shown, reading.profile.file
    columns = {name: reading.profile.columns[name].source for name in mapped}
    found = []
    if reading.format == "jsonl":
        found.append(Fault(UNPARSABLE, None, "broken", "the line is no JSON object"))
    elif reading.format == "csv":
        found.append(Fault(UNPARSABLE, None, "broken", ""))
        width = len(reading.header.names)
        found.append(
            Fault(UNPARSABLE, None, "overfull",
                  f"{{fields}} fields where the header has {width}: is a delimiter inside a field that is not quoted?")
        )  # fmt: skip
    found.append(
        Fault(UNPARSABLE, "struck_at", "said_struck_at is not null and struck_at is null",
              f"a time written {_time_said(reading)} was expected under '{columns.get('struck_at')}'; see {shown}")
    )  # fmt: skip
    numbers = [EXPORTED_BY_NAME[name] for name in reading.numbers if name in mapped]
    found += [
        Fault(UNPARSABLE, number.name, f"said_{number.name} is not null and {identifier(number.name)} is null",
              f"a number with decimal '{shape.decimal}' was expected under '{columns[number.name]}'; see {shown}")
        for number in numbers
    ]  # fmt: skip
    found += [
        Fault(MISSING, name, f"said_{name} is null", f"a shot needs {name}, and '{columns.get(name)}' is empty")
        for name in REQUIRED
    ]
    found += [
        Fault(OUTSIDE, number.name, f"{identifier(number.name)} not between {number.low} and {number.high}",
              f"'{columns[number.name]}' ({reading.profile.columns[number.name].unit}) comes to {{canonical}} "
              f"{number.unit}, and only {number.low:g} to {number.high:g} is possible")
        for number in numbers
    ]  # fmt: skip
    found.append(Fault(OTHER_NIGHT, "struck_at", "struck_at_local::date <> night",
                       "it is {local} at the site, and the file is for {night}: is the bay's clock right, and the "
                       "profile's timezone?"))  # fmt: skip
    in_map = reading.profile.columns["club"].map
    remedy = f"add it to columns.club.map in {shown}" if in_map else f"map it in {shown}"
    found.append(Fault(UNKNOWN_CLUB, "club", "club is null", f"no club by this name: {remedy}"))
    return found


def select(reading: Reading) -> str:
    """Return the statement that gives one converted row for each row of `landing_line`.

    Columns: file_id, rid (row in landing_line), line, duplicate, code (0: loads; else the fault's number, from 1),
    struck_at, struck_at_local, student_id, club and `reading.numbers`.
    """
    names = reading.numbers
    mapped = reading.mapped
    if reading.format == "parquet":
        broken, row_is = "false as broken, false as overfull", "true"
        taken = "l.* exclude (file_name)"
        listed = "*"
    else:
        taken = "l.text"
        listed = f"* exclude (text), {fields(reading)} as f, {_broken(reading)} as broken"
        row_is = "l.text is not null" + (f" and l.text <> {quoted(normalise_lines.GONE)}" if reading.clean else "")
        broken = f"broken, {_overfull(reading)} as overfull"
    said = ", ".join(f"{_said(reading, mapped.get(name))} as said_{name}" for name in
                     ("struck_at", "student_id", "club", *names))  # fmt: skip
    numbers = ", ".join(f"{_number(reading, name)} as number_{name}" for name in names)
    canonical = ", ".join(f"{_canonical(reading, name)} as {identifier(name)}" for name in names)
    place = mapped["struck_at"]
    kind = reading.types[place - 1] if reading.types else "VARCHAR"
    local, utc = local_and_utc("instant", "absolute", reading.profile.file.timezone, reading.timezone)
    naive, absolute = parsed("said_struck_at", kind, reading.profile.file.timestamp_format)
    cases = " ".join(f"when {fault.test} then {code}" for code, fault in enumerate(faults(reading), start=1))
    return f"""
with rows_said as (
    select f.file_id, f.night, l.rowid as rid, l.rowid - f.first_row + 1 as line, d.rid is not null as duplicate,
        {taken}
    from temp.landing_line as l
    join temp.landing_file as f using (file_name)
    left join temp.landing_duplicate as d on d.rid = l.rowid
    where {row_is} and l.rowid - f.first_row + 1 > f.header_line
),
listed as (select {listed} from rows_said),
said as (select file_id, night, rid, line, duplicate, {broken}, {said} from listed),
numbers as (select *, {numbers}, {naive} as instant, {absolute} as absolute from said),
canonical as (
    select *, {utc} as struck_at, {local} as struck_at_local, {_student(reading)} as student_id,
        {_club(reading)} as club, {canonical}
    from numbers
)
select file_id, rid, line, duplicate, (case {cases} else 0 end)::utinyint as code,
    struck_at, struck_at_local, student_id, club, {", ".join(identifier(name) for name in names)}
from canonical"""


def _broken(reading: Reading) -> str:
    if reading.format == "jsonl":
        return f"not {json_object('text')}"
    return f"starts_with(text, {quoted(normalise_lines.BAD)})" if reading.clean else "false"


def _overfull(reading: Reading) -> str:
    """Return SQL for whether a row has more fields than the header; empty ones at its end do not count."""
    if reading.format != "csv":
        return "false"
    width = len(reading.header.names)
    beyond = f"len(list_filter(f[{width + 1}:], lambda x: trim(x) <> '')) > 0"
    return f"case when len(f) > {width} then {beyond} else false end"


def number_list(reading: Reading) -> str:
    """Return SQL for the list of a converted row's numbers, in their order."""
    return "[" + ", ".join(identifier(name) for name in reading.numbers) + "]"


def number_place(reading: Reading, name: str | None) -> int | None:
    """Return a number's place (from 1) in `number_list`."""
    return reading.numbers.index(name) + 1 if name in reading.numbers else None
