"""The types by which a reader's result travels from the child to a frame: text where Arrow or the frame has no equal.

Loaded by path by worker.py, so lean like it: nothing of ours is imported. Not here: what becomes of values in files
(plain_values.py).
"""

from __future__ import annotations

import re

import duckdb
import pyarrow as pa
import pyarrow.compute as pc

ON_WIRE = {"HUGEINT": "DECIMAL(38,0)", "UHUGEINT": "DECIMAL(38,0)"}
AS_TEXT = ("BLOB", "BIT", "INTERVAL", "TIME WITH TIME ZONE", "VARIANT", "GEOMETRY", "BIGNUM", "TIME_NS")
PER_SECOND = {"s": 1, "ms": 10**3, "us": 10**6, "ns": 10**9}
FIRST_DAY, LAST_DAY = -719_162, 2_932_896  # 1 January 1 and 31 December 9999, counted from 1970
ENUM = re.compile(r"\bENUM\((?:'(?:[^']|'')*'(?:, )?)*\)")
_NAMED = re.compile(rf'"(?:[^"]|"")*"|\b(?:{"|".join([*ON_WIRE, *AS_TEXT])})\b')  # a quoted name is not a type


def on_wire(kind: duckdb.sqltypes.DuckDBPyType) -> str:
    """Return the type by which a column of this type travels: text where Arrow or the frame has no equal."""
    name = str(kind)
    if name in ("HUGEINT", "UHUGEINT") or _has_no_equal(kind):
        return "VARCHAR"
    return name if name == "BLOB" else _NAMED.sub(_travelling, ENUM.sub("VARCHAR", name))


def _travelling(word: re.Match[str]) -> str:
    return ON_WIRE.get(word[0], "VARCHAR" if word[0] in AS_TEXT else word[0])


def _has_no_equal(kind: duckdb.sqltypes.DuckDBPyType) -> bool:
    """Whether a frame has no such type: a union, a map, a row whose values have no names or share one."""
    if kind.id in ("union", "map"):
        return True
    if kind.id not in ("struct", "list", "array"):
        return False
    names = [name for name, _ in kind.children] if kind.id == "struct" else []
    parts = [part for _, part in kind.children if isinstance(part, duckdb.sqltypes.DuckDBPyType)]
    return "" in names or len({*names}) < len(names) or any(_has_no_equal(part) for part in parts)


class Unreadable(Exception):
    """Columns, by number, hold days that a frame has not: infinity, or outside the years 1 to 9999."""


def outside_calendar(values: pa.Array) -> bool:
    """Return whether an array holds such a day, nested or not."""
    kind = values.type
    if pa.types.is_struct(kind):
        return any(outside_calendar(values.field(number)) for number in range(kind.num_fields))
    if pa.types.is_list(kind) or pa.types.is_fixed_size_list(kind) or pa.types.is_large_list(kind):
        return outside_calendar(values.flatten())
    if not (pa.types.is_date32(kind) or pa.types.is_timestamp(kind)):
        return False
    a_day = 1 if pa.types.is_date32(kind) else 86_400 * PER_SECOND[kind.unit]
    ends = pc.min_max(values.view(pa.int32() if pa.types.is_date32(kind) else pa.int64()))
    low, high = ends["min"].as_py(), ends["max"].as_py()
    return low is not None and (low < FIRST_DAY * a_day or high >= (LAST_DAY + 1) * a_day or high == 2**63 - 1)
