"""Shots inside nested JSON: each list on the way gone through, values taken by path. Not here: flat JSON lines.

The database's own JSON functions do the work; a path's [] beyond those that the shots share is an error.
"""

from __future__ import annotations

import re

import duckdb
import polars as pl

from warehouse.landing.cells.table import COLUMN, NoTableError, Rows
from warehouse.landing.profile.profile import Profile
from warehouse.schema.declaration import quoted

STEP = re.compile(r"\[([0-9]*)\]|([^.\[\]]+)")
ROOT = "$"


def steps(path: str) -> list[str]:
    """Return a path in pieces: names, "[]" for a list gone through, "[2]" for one element."""
    bare = path.removeprefix("$").removeprefix(".")
    return [] if bare in ("", ".") else [f"[{found[1]}]" if found[1] is not None else found[2]
                                         for found in STEP.finditer(bare)]  # fmt: skip


def json_path(pieces: list[str]) -> str:
    """Return pieces as the database writes a path."""
    told = (piece if piece.startswith("[") else '."' + piece.replace("\\", "\\\\").replace('"', '\\"') + '"'
            for piece in pieces)  # fmt: skip
    return ROOT + "".join(told)


def read_json(documents: list[str], profile: Profile, fields: dict[str, str | None]) -> Rows:
    """Return the shots of JSON documents (one, or one a line).

    Parameters
    ----------
    documents
        Texts; one that is no JSON becomes a row that cannot be read.
    profile
        Its rows_at says where the shots stand.
    fields
        Values of the fields that stand in no path.
    """
    levels = _levels(steps(profile.file.rows_at or "."))
    with duckdb.connect() as con:
        frame = pl.DataFrame(
            {"doc": documents, "line": range(1, len(documents) + 1)}, schema_overrides={"doc": pl.String}
        )
        con.register("documents", frame.filter(pl.col("doc").str.strip_chars() != ""))
        broken = con.execute("select line, doc from documents where not json_valid(doc)").pl()
        told = con.execute(_statement(levels, profile)).pl()
    if told.is_empty() and broken.is_empty():
        raise NoTableError(f"holds no shot at rows_at = '{profile.file.rows_at}'")
    told = told.with_columns(pl.int_range(1, pl.len() + 1, dtype=pl.Int64).alias("line"))
    names = tuple(name.removeprefix(COLUMN) for name in told.columns if name.startswith(COLUMN)
                  and told[name].null_count() < told.height)  # fmt: skip
    spoiled = broken.select(
        pl.col("line").cast(pl.Int64) + told.height, place=pl.format("document {}", "line"),
        whole=pl.col("doc").str.slice(0, 500),
        fault=pl.lit("is no JSON: was the file cut short?"),
    )  # fmt: skip
    rows = pl.concat([told.with_columns(pl.lit(None, pl.String).alias("fault")), spoiled], how="diagonal")
    constants = [pl.lit(value, pl.String).alias(COLUMN + name) for name, value in fields.items()]
    return Rows(rows.with_columns(constants), names, 0)


def _levels(pieces: list[str]) -> list[list[str]]:
    """Return the way to the shots, cut after each list on it; the last part leads to the shot itself."""
    levels: list[list[str]] = [[]]
    for piece in pieces:
        if piece == "[]":
            levels.append([])
        else:
            levels[-1].append(piece)
    return levels


def _statement(levels: list[list[str]], profile: Profile) -> str:
    """Return the query that goes through the lists, one step each, and takes values by path at every level."""
    wanted = _wanted(profile)
    depths = {name: _depth(source, levels) for name, source in wanted.items()}
    numbered = {name: f"v{at}" for at, name in enumerate(wanted)}

    def taken(depth: int) -> str:
        return "".join(
            f", json_extract_string(e, {quoted(json_path(pieces))}) as {numbered[name]}"
            for name, (level, pieces) in depths.items() if level == depth
        )  # fmt: skip

    query = f"select line as n0, {quoted(ROOT)} as place, doc as e{taken(0)} from documents where json_valid(doc)"
    for depth, way in enumerate(levels[:-1], start=1):
        into = f"json_extract(e, {quoted(json_path([*way, '[*]']))})"
        inner = f"select *, unnest({into}) as inside, generate_subscripts({into}, 1) as n{depth} from ({query})"
        place = f"place || {quoted(json_path(way)[1:])} || '[' || (n{depth} - 1)::varchar || ']'"
        query = (
            f"select *{taken(depth)} from (select * exclude (e, inside) replace "
            f"({place} as place), inside::varchar as e from ({inner}))"
        )
    values = ", ".join(f'{numbered[name]} as "{(COLUMN + name).replace(chr(34), chr(34) * 2)}"' for name in wanted)
    order = ", ".join(f"n{depth}" for depth in range(len(levels)))
    return f"select replace(place, chr(34), '') as place, e as whole, {values} from ({query}) order by {order}"


def _wanted(profile: Profile) -> dict[str, str]:
    """Return name -> path of everything that is taken out of the documents."""
    sources = [source for column in profile.columns.values() for source in column.sources]
    sources += [column.zone for column in profile.columns.values() if column.zone]
    sources += [place.source for place in (profile.inbox.bay, profile.inbox.night) if place]
    sources += [*profile.rows.only_where, *profile.rows.except_where]
    paths = {name: ROOT + "." + field.path.removeprefix(ROOT).removeprefix(".")
             for name, field in profile.fields.items() if field.path}  # fmt: skip
    return {source: source for source in sources if source not in profile.fields} | paths


def _depth(source: str, levels: list[list[str]]) -> tuple[int, list[str]]:
    """Return on which level of lists a value stands, and the way to it from there; a bare path is the shot's own."""
    pieces = steps(source)
    if not source.startswith(ROOT):
        return len(levels) - 1, [*levels[-1], *pieces]
    depth = 0
    while "[]" in pieces and depth < len(levels) - 1 and pieces[: pieces.index("[]")] == levels[depth]:
        pieces, depth = pieces[pieces.index("[]") + 1 :], depth + 1
    if "[]" in pieces:
        raise NoTableError(f"'{source}' goes through a list that rows_at does not")
    return depth, pieces
