"""The child process that runs one query of a reader: confined first, then judged, then run.

Started by path by warehouse/query/guard.py, and lean for that reason: it imports the database, Arrow and the standard
library, nothing of ours. It reads one JSON request from standard input and writes one report (eight bytes of length,
JSON, then an Arrow stream) to standard output. Not here: starting, killing and reading it (query_guard.py).
"""

from __future__ import annotations

import importlib.util
import io
import json
import os
import re
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

if __name__ == "__main__":
    sys.modules["pandas"] = None  # type: ignore[assignment]  # the database looks for it at a parameter: half a second

import duckdb
import pyarrow as pa


def beside(name: str) -> ModuleType:
    """Return the module of a file beside this one: a child started by path has no folder of ours to import from."""
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


wire_types, confinement = beside("wire_types"), beside("confinement")
confine = confinement.confine

BATCH_ROWS = 2048
TABLE_FUNCTIONS = frozenset({
    "duckdb_columns", "duckdb_constraints", "duckdb_functions", "duckdb_schemas", "duckdb_tables", "duckdb_types",
    "duckdb_views", "generate_series", "icu_calendar_names", "json_each", "json_tree", "pg_timezone_names",
    "pragma_table_info", "range", "repeat", "repeat_row", "test_all_types", "unnest",
})  # fmt: skip
REFUSED_FUNCTIONS = frozenset({
    "currval", "current_setting", "getenv", "getvariable", "json_execute_serialized_sql", "nextval",
    "parse_duckdb_log_message", "pg_sleep", "query", "query_table", "set_config", "sleep_ms", "write_log",
})  # fmt: skip
REFUSED_TABLES = frozenset({
    "duckdb_databases", "duckdb_logs", "duckdb_secrets", "duckdb_settings", "pg_database", "pg_settings",
    "pragma_database_list",
})  # fmt: skip


class Refused(Exception):
    """A sentence with a remedy, for the reader."""


def connect(database: str, memory_mb: int) -> duckdb.DuckDBPyConnection:
    """Open the published file read-only, cut off from everything else, its settings locked."""
    settings: dict[str, str | bool | int | float | list[str]] = {
        "access_mode": "READ_ONLY",
        "enable_external_access": "false",
        "autoinstall_known_extensions": "false",
        "autoload_known_extensions": "false",
        "allow_community_extensions": "false",
        "python_enable_replacements": "false",
        "threads": str(confinement.THREADS),
        "memory_limit": f"{memory_mb * 6 // 10}MB",
        "temp_directory": "",
        "max_temp_directory_size": "0B",
    }
    try:
        connection = duckdb.connect(database, config=settings)
    except duckdb.IOException as error:
        raise Refused("The published file could not be opened; run the query again, and if that does not help "
                      "publish again.") from error  # fmt: skip
    connection.execute("set TimeZone = 'UTC'")
    connection.execute("set lock_configuration = true")
    return connection


def one_select(connection: duckdb.DuckDBPyConnection, sql: str) -> tuple[duckdb.Statement, dict[str, Any]]:
    """Return the one select of a text and its syntax tree; refuse anything else."""
    statements = connection.extract_statements(sql)
    if not statements:
        raise Refused("There is nothing to run; write one select.")
    if statements[0].type == duckdb.StatementType.CREATE and re.search(r"\bpivot\b", sql, re.IGNORECASE):
        raise Refused("A pivot must name its values; write pivot … on … in (…).")
    if len(statements) > 1:
        raise Refused(f"There are {len(statements)} statements; write exactly one select.")
    if statements[0].type != duckdb.StatementType.SELECT:
        kind = statements[0].type.name.replace("_", " ").lower()
        raise Refused(f"A statement of kind {kind} cannot be run here; write one select.")
    (text,) = connection.execute("select json_serialize_sql(?)", [sql]).fetchone() or ("",)
    tree = json.loads(text)
    if tree.get("error"):
        raise Refused("Only a plain select can be run here; write one select.")
    return statements[0], tree


def nodes(tree: Any) -> Iterator[dict[str, Any]]:
    """Yield every object of a syntax tree."""
    waiting = [tree]
    while waiting:
        node = waiting.pop()
        if isinstance(node, dict):
            yield node
            waiting.extend(node.values())
        elif isinstance(node, list):
            waiting.extend(node)


def judge(connection: duckdb.DuckDBPyConnection, tree: dict[str, Any]) -> None:
    """Refuse functions and relations that reach past the published tables."""
    for node in nodes(tree):
        name = str(node.get("function_name", "")).lower()
        if name in REFUSED_FUNCTIONS:
            raise Refused(f"The function {name} cannot be used here; leave it out.")
        if node.get("type") == "TABLE_FUNCTION":
            name = str((node.get("function") or {}).get("function_name", "")).lower()
            if name not in TABLE_FUNCTIONS and not _own_macro(connection, name):
                raise Refused(f"The table function {name} cannot be used here; select from the published tables.")
        if node.get("type") == "BASE_TABLE":
            table = str(node.get("table_name", ""))
            if re.search(r"[./\\*:?]", table):
                raise Refused(f"{table[:80]!r} names a file; select from the published tables.")
            if table.lower() in REFUSED_TABLES:
                raise Refused(f"{table.lower()} cannot be read here; select from the published tables.")


def _own_macro(connection: duckdb.DuckDBPyConnection, name: str) -> bool:
    """Whether the published file itself defines this table macro."""
    query = "select count(*) from duckdb_functions() where lower(function_name) = ? and not internal"
    return bool((connection.execute(query, [name]).fetchone() or (0,))[0])


def reader_of(
    connection: duckdb.DuckDBPyConnection, statement: duckdb.Statement, tree: dict[str, Any], kinds: list[str],
    wire: list[str],
) -> pa.RecordBatchReader:  # fmt: skip
    """Return the running result, its columns in the types by which they travel."""
    if wire == kinds:
        connection.execute(statement)
    else:
        (text,) = connection.execute("select json_deserialize_sql(?)", [json.dumps(tree)]).fetchone() or ("",)
        columns = [f"c{number}" for number in range(len(kinds))]
        casts = (name if a == b else f"{name}::{b}" for name, a, b in zip(columns, kinds, wire, strict=True))
        connection.execute(f"select {', '.join(casts)} from ({text}) as result({', '.join(columns)})")
    return connection.to_arrow_reader(BATCH_ROWS)


def fitting(batch: pa.RecordBatch, room: int) -> int:
    """Return how many leading rows of a batch fit into `room` bytes."""
    low, high = 0, batch.num_rows
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if batch.slice(0, middle).nbytes <= room else (low, middle - 1)
    return low


class Out:
    """Standard output as a file that counts: where a second run's rows begin."""

    closed = False

    def __init__(self) -> None:
        self.size = 0

    def write(self, data: Any) -> int:
        """Hand bytes on at once."""
        self.size += len(data)
        sys.stdout.buffer.write(data)
        return len(data)

    def flush(self) -> None:
        """Hand on what waits."""
        sys.stdout.buffer.flush()


def collect(reader: pa.RecordBatchReader, max_rows: int, max_bytes: int, sink: Any) -> tuple[int, str]:
    """Write the rows within both limits as an Arrow stream; return their number and the limit met ("" if none)."""
    rows, size, limit = 0, 0, ""
    columns = [f"c{number}" for number in range(len(reader.schema))]
    schema = pa.schema([field.with_name(name) for field, name in zip(reader.schema, columns, strict=True)])
    with pa.ipc.new_stream(sink, schema) as writer:
        for batch in reader:
            kept = min(batch.num_rows, max_rows - rows)
            limit = "rows" if kept < batch.num_rows else ""
            fits = fitting(batch.slice(0, kept), max_bytes - size)
            limit = "bytes" if fits < kept else limit
            part = batch.slice(0, fits)
            if strange := {number for number, column in enumerate(part.columns) if wire_types.outside_calendar(column)}:
                raise wire_types.Unreadable(strange)
            writer.write_batch(pa.RecordBatch.from_arrays(part.columns, schema=schema))
            rows, size = rows + fits, size + part.nbytes
            if limit:
                break
    if limit == "bytes" and rows == 0:
        raise Refused(f"One row is larger than {max_bytes:,} bytes; select less of it.")
    return rows, limit


def read(
    connection: duckdb.DuckDBPyConnection, statement: duckdb.Statement, tree: dict[str, Any], request: dict[str, Any]
) -> tuple[dict[str, Any], bytes]:
    """Return what is to be told of the rows, and them; what a frame has not comes as text, if need be on a second run.

    Rows of an export go out as they come: "at" tells where the last run's begin.
    """
    out = Out()
    relation = connection.sql(statement)
    kinds = [str(kind) for kind in relation.types]
    wire = [wire_types.on_wire(kind) for kind in relation.types]
    while True:
        try:
            reader = reader_of(connection, statement, tree, kinds, wire)
            at, kept = out.size, io.BytesIO()
            sink = out if request["mode"] == "export" else kept
            rows, limit = collect(reader, request["max_rows"], request["max_bytes"], sink)
            told = {"names": list(relation.columns), "kinds": kinds, "limit": limit, "at": at, "rows": rows}
            return told, kept.getvalue()
        except wire_types.Unreadable as found:
            strange = found.args[0]
        except duckdb.ConversionException:
            strange = {number for number, kind in enumerate(wire) if "DECIMAL(38,0)" in kind}
            if not strange:
                raise
        wire = ["VARCHAR" if number in strange else kind for number, kind in enumerate(wire)]


def answer(request: dict[str, Any]) -> tuple[dict[str, Any], bytes]:
    """Judge and run one request; return the report and the rows."""
    connection = connect(request["database"], request["memory_mb"])
    clock = threading.Timer(request["seconds"], connection.interrupt)
    clock.daemon = True
    statement, tree = one_select(connection, request["sql"])
    judge(connection, tree)
    clock.start()
    began = time.perf_counter()
    if request["mode"] in ("rows", "export"):
        report, rows = read(connection, statement, tree, request)
    else:
        verb = "explain analyze" if request["mode"] == "analyse" else "explain"
        plan = connection.execute(f"{verb}\n{request['sql']}").fetchall()
        rows, report = b"", {"plan": "\n".join(str(row[-1]) for row in plan)}
    return report | {"seconds": time.perf_counter() - began}, rows


def sentence(error: Exception, request: dict[str, Any]) -> str:
    """Say in one sentence what was wrong and what to do, without the file's place on disk."""
    if isinstance(error, (MemoryError, duckdb.OutOfMemoryException)):
        return f"The query needed more than {request['memory_mb']} MB; narrow it with where, group by or limit."
    if isinstance(error, duckdb.InterruptException):
        return f"The query ran longer than {request['seconds']:g} s; narrow it with where, group by or limit."
    if isinstance(error, RecursionError):
        return "The query is nested too deeply; write it flatter, with named steps."
    said = str(error).split("\n\nLINE")[0].replace(request["database"], "the published file")
    said = re.sub(r"\s+", " ", said).strip().rstrip(".")[:300]
    remedy = "correct the SQL"
    if isinstance(error, (duckdb.CatalogException, duckdb.BinderException)):
        remedy = "tables and columns are listed in mart.dictionary"
    elif isinstance(error, duckdb.PermissionException):
        remedy = "only the published tables can be read here"
    elif isinstance(error, (duckdb.ConversionException, duckdb.OutOfRangeException)):
        remedy = "correct the value, or use try_cast"
    return f"The query could not run: {said}; {remedy}."


def respond(request: dict[str, Any]) -> tuple[dict[str, Any], bytes]:
    """Return the report of a request, a refusal too, and the rows."""
    try:
        return answer(request)
    except Refused as refusal:
        return {"refused": str(refusal)}, b""
    except Exception as error:  # whatever the query did, the reader gets a sentence
        return {"refused": sentence(error, request)}, b""


def main() -> None:
    """Serve the one request on standard input."""
    request = json.loads(sys.stdin.buffer.read())
    confine(request["seconds"], request["memory_mb"])
    report, rows = respond(request)
    text = json.dumps(report).encode()
    length = len(text).to_bytes(8, "big")
    # The report of an export comes last: it is known only once its rows are out.
    sys.stdout.buffer.write(text + length if request["mode"] == "export" else length + text + rows)
    sys.stdout.buffer.flush()
    os._exit(0)  # a result that was cut short must not be waited for


if __name__ == "__main__":
    main()
