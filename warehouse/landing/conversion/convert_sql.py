"""The SQL that turns what an export says into canonical shots, each row with its first fault.

One statement serves every format: text is split into fields, parquet columns are taken as they are (named c1, c2 ... by
their place), and from there on units, signs, time zones, clubs and the order of faults are the same. Not here: running
it (bulk_load.py).
"""

from __future__ import annotations

from dataclasses import dataclass

from warehouse.landing.conversion import column_values
from warehouse.landing.conversion.read_plan import ZONE, Reading, identifier
from warehouse.landing.conversion.timestamps import local_and_utc
from warehouse.landing.lines import normalise_lines
from warehouse.schema.declaration import quoted
from warehouse.schema.metrics import EXPORTED_BY_NAME

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


def _time_said(reading: Reading) -> str:
    return " or ".join(f"'{form}'" if form else "ISO 8601" for form in reading.profile.file.formats)


def faults(reading: Reading) -> list[Fault]:
    """Return every way a row of these exports can be rejected, in the order in which the first counts."""
    mapped, shown, shape = reading.mapped, reading.shown, reading.profile.file
    columns = {name: reading.profile.columns[name].source for name in mapped}
    found = []
    if reading.format == "jsonl":
        found.append(Fault(UNPARSABLE, None, "broken", "the line is no JSON object"))
    elif reading.cells:
        found.append(Fault(UNPARSABLE, None, "broken", ""))
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
        for name in reading.profile.needed
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
    line = "l.said_line" if reading.cells else "l.rowid - f.first_row + 1"
    if reading.format == "parquet":
        broken, row_is = f"{'fault is not null' if reading.cells else 'false'} as broken, false as overfull", "true"
        taken = "l.* exclude (file_name)"
        listed = "*"
    else:
        taken = "l.text"
        listed = f"* exclude (text), {fields(reading)} as f, {_broken(reading)} as broken"
        row_is = "l.text is not null" + (f" and l.text <> {quoted(normalise_lines.GONE)}" if reading.clean else "")
        broken = f"broken, {_overfull(reading)} as overfull"
    said = ", ".join(f"{column_values.said(reading, name)} as said_{name}" for name in
                     ("struck_at", "student_id", "club", *names))  # fmt: skip
    said += "".join(f", {reading.read_from(name)}" for name in ("struck_at", "club", ZONE) if reading.read_from(name))
    numbers = ", ".join(f"{column_values.number(reading, name)} as number_{name}" for name in names)
    canonical = ", ".join(f"{column_values.canonical(reading, name)} as {identifier(name)}" for name in names)
    naive, absolute = column_values.moment(reading)
    local, utc = local_and_utc("instant", "absolute", reading.profile.file.timezone, reading.timezone)
    cases = " ".join(f"when {fault.test} then {code}" for code, fault in enumerate(faults(reading), start=1))
    return f"""
with rows_said as (
    select f.file_id, f.night, l.rowid as rid, {line} as line, d.rid is not null as duplicate,
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
    select *, {utc} as struck_at, {local} as struck_at_local, {column_values.student(reading)} as student_id,
        {column_values.club(reading)} as club, {canonical}
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
