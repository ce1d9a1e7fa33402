"""One bulk read of many exports that are written alike: their lines into the database, converted, counted, inserted.

A line is read as one text and split in SQL: so physical line numbers, exact duplicates and too many fields are known
for every row, which the database's own CSV reader does not tell. Not here: which exports are read together
(load.py), nor the conversion's SQL (convert_sql.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import duckdb

from warehouse.landing.conversion import convert_sql
from warehouse.landing.conversion.convert_sql import Fault, Reading
from warehouse.landing.exports.inspect import Inspected
from warehouse.landing.lines import normalise_lines
from warehouse.schema.declaration import quoted

NO_DELIMITER = "\x01"
"""What the line reader is given as delimiter: preflight sends a file that holds it to the clean copy."""
SHOWN_VALUE = 200
TEMPORARY = ("landing_row", "landing_duplicate", "landing_line", "landing_file", "landing_fault")


class ReadError(RuntimeError):
    """The database could not read the files as preflight saw them; the message says why."""


@dataclass(frozen=True)
class Counts:
    """What became of one file's rows: read = loaded + rejected + duplicate + set_aside."""

    read: int = 0
    loaded: int = 0
    rejected: int = 0
    duplicate: int = 0
    set_aside: int = 0


NO_ROWS = Counts()


def read_lines(con: duckdb.DuckDBPyConnection, reading: Reading, files: Sequence[Inspected]) -> None:
    """Fill `landing_line` with the files' lines in order, and `landing_file` with where each file begins.

    Raises
    ------
    ReadError
        The database read other line counts than preflight did.
    """
    paths = "[" + ", ".join(quoted(str(file.read_from)) for file in files) + "]"
    if reading.format == "parquet":
        columns = ", ".join(
            f"{convert_sql.identifier(n)} as c{at}" for at, n in enumerate(reading.header.names, start=1)
        )
        if reading.cells:
            columns += ", line as said_line, place, fault, whole, digest"
        source = f"select landing_path as file_name, {columns} from read_parquet({paths}, filename = 'landing_path')"
    else:
        source = (
            f"select filename as file_name, text from read_csv({paths}, columns = {{'text': 'VARCHAR'}}, "
            f"auto_detect = false, header = false, delim = {quoted(NO_DELIMITER)}, quote = '', escape = '', "
            "filename = true, max_line_size = 16777216)"
        )
    con.execute(f"create or replace temp table landing_line as {source}")
    starts = dict(
        (name, (first, count))
        for name, first, count in con.execute(
            "select file_name, min(rowid), count(*) from temp.landing_line group by all"
        ).fetchall()
    )
    for file in files:
        _, count = starts.get(str(file.read_from), (0, 0))
        if count != file.lines:
            raise ReadError(f"{count} lines were read where the file has {file.lines}")
    con.execute(
        "create or replace temp table landing_file as select unnest($1) as file_id, unnest($2) as file_name, "
        "unnest($3)::bigint as first_row, unnest($4) as header_line, unnest($5)::date as night, unnest($6) as bay_id, "
        "unnest($7) as path",
        [
            list(range(len(files))),
            [str(file.read_from) for file in files],
            [starts.get(str(file.read_from), (0, 0))[0] for file in files],
            [file.header.line for file in files],
            [file.file.night for file in files],
            [file.file.bay_id for file in files],
            [file.file.path for file in files],
        ],
    )


def find_duplicates(con: duckdb.DuckDBPyConnection, reading: Reading) -> None:
    """Fill `landing_duplicate` with the rows that stand again, word for word, in the same file.

    Rows are grouped by a hash, and the few that share one are compared in full.
    """
    if reading.format == "parquet":
        names = [f"c{place}" for place in range(1, len(reading.header.names) + 1)]
        digest, is_row = f"hash({', '.join('l.' + name for name in names)})", "true"
        same = " and ".join(f"l.{name} is not distinct from origin.{name}" for name in names)
        if reading.cells:
            digest, same = "l.digest", "l.digest = origin.digest"
    else:
        digest, same = "hash(l.text)", "l.text = origin.text"
        is_row = f"l.text is not null and l.text <> {quoted(normalise_lines.GONE)}"
    con.execute(
        f"create or replace temp table landing_duplicate as with twins as (select l.file_name, {digest} as digest, "
        f"min(l.rowid) as first_row from temp.landing_line as l where {is_row} group by all having count(*) > 1) "
        f"select l.rowid as rid from temp.landing_line as l join twins as t on t.file_name = l.file_name "
        f"and t.digest = {digest} join temp.landing_file as f on f.file_name = l.file_name "
        f"join temp.landing_line as origin on origin.rowid = t.first_row "
        f"where l.rowid > t.first_row and t.first_row - f.first_row + 1 > f.header_line and {same}"
    )


def convert(con: duckdb.DuckDBPyConnection, reading: Reading, files: Sequence[Inspected]) -> list[Counts]:
    """Read the files' lines and convert them into `landing_row`; return what became of each file's rows."""
    read_lines(con, reading, files)
    find_duplicates(con, reading)
    con.execute(f"create or replace temp table landing_row as {convert_sql.select(reading)}")
    counts = {
        row[0]: Counts(*row[1:])
        for row in con.execute(
            "select file_id, count(*), count(*) filter (not duplicate and code = 0), "
            "count(*) filter (not duplicate and code > 0), count(*) filter (duplicate) "
            "from temp.landing_row group by all"
        ).fetchall()
    }
    return [counts.get(at, NO_ROWS) for at in range(len(files))]


def insert_shots(con: duckdb.DuckDBPyConnection, reading: Reading, file_ids: Sequence[int]) -> None:
    """Insert the converted rows without fault of these files into raw.shot."""
    numbers = ", ".join(f"r.{convert_sql.identifier(name)}" for name in reading.numbers)
    turned = ", true as already_turned" if reading.profile.file.left_handers == "turned round" else ""
    con.execute(
        "insert into raw.shot by name select f.night, f.bay_id, f.path, r.line, r.struck_at, r.struck_at_local, "
        f"r.student_id, r.club, {numbers}{turned} from temp.landing_row as r "
        "join temp.landing_file as f using (file_id) "
        "where r.code = 0 and not r.duplicate and list_contains($1, file_id)",
        [list(file_ids)],
    )


def insert_rejected(con: duckdb.DuckDBPyConnection, reading: Reading, file_ids: Sequence[int]) -> None:
    """Insert the rows with a fault of these files into raw.rejected_row, each with its first fault in words."""
    con.execute(f"insert into raw.rejected_row by name select *, true as latest from ({rejected(con, reading)} "
                "where list_contains($1, file_id))", [list(file_ids)])  # fmt: skip


def rejected(con: duckdb.DuckDBPyConnection, reading: Reading) -> str:
    """Fill `landing_fault`; return the select that gives raw.rejected_row's rows (a `where` may follow)."""
    found = convert_sql.faults(reading)
    con.execute(
        "create or replace temp table landing_fault as select unnest($1)::utinyint as code, unnest($2)::varchar as "
        "reason, unnest($3)::varchar as column_name, unnest($4)::bigint as place, unnest($5)::varchar as number_place, "
        "unnest($6)::varchar as detail",
        _columns(reading, found),
    )
    text = "l.text" if reading.format != "parquet" else "null::varchar"
    bad = f"starts_with({text}, {quoted(normalise_lines.BAD)})"
    whole = f"case when {bad} then substr({text}, instr({text}, {quoted(normalise_lines.FIELD)}) + 1) else " + (
        f"replace({text}, {quoted(normalise_lines.FIELD)}, {quoted(reading.profile.file.delimiter)}) end"
    )
    if reading.cells:
        whole = "l.whole"
    place = "l.place" if reading.cells else "null::varchar"
    fields = convert_sql.fields(reading, "l.text")
    canonical = f"round(({convert_sql.number_list(reading)})[number_place::bigint], 3)::varchar"
    said = f"case when {bad} then split_part(substr({text}, 2), {quoted(normalise_lines.FIELD)}, 1) else detail end"
    if reading.cells:
        said = "coalesce(l.fault, detail)"
    words = (
        f"replace(replace(replace(replace({said}, '{{canonical}}', coalesce({canonical}, '')), "
        f"'{{local}}', coalesce(strftime(r.struck_at_local, '%Y-%m-%d %H:%M:%S'), '')), '{{night}}', "
        f"coalesce(night::varchar, '')), '{{fields}}', coalesce(len(f), 0)::varchar)"
    )
    return (
        f"select night, bay_id, path, line, column_name, left(case when place is null then whole else f[place] end, "
        f"{SHOWN_VALUE}) as value, reason, words as detail, place_said as place "
        "from (select r.file_id, p.night, p.bay_id, p.path, r.line, "
        f"c.column_name, c.place, c.reason, {place} as place_said, {whole} as whole, {fields} as f, {words} as words "
        "from temp.landing_row as r join temp.landing_file as p using (file_id) "
        "join temp.landing_fault as c using (code) join temp.landing_line as l on l.rowid = r.rid "
        "where not r.duplicate)"
    )


def _columns(reading: Reading, found: list[Fault]) -> list[list[object]]:
    mapped = reading.mapped
    return [
        list(range(1, len(found) + 1)),
        [fault.reason for fault in found],
        [fault.column for fault in found],
        [mapped.get(fault.column or "") for fault in found],
        [str(place) if (place := convert_sql.number_place(reading, fault.column)) else None for fault in found],
        [fault.detail for fault in found],
    ]


def clear(con: duckdb.DuckDBPyConnection) -> None:
    """Drop the temporary tables."""
    for name in TEMPORARY:
        con.execute(f"drop table if exists temp.{name}")
