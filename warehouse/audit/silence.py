"""What has not arrived: which bays' exports are missing or refused, and what to do about each.

Expected are bays with lessons and, without lessons, bays that usually report on that weekday (mart.bay_expected). The
lesson book and the landing folder are looked at as they lie now, the rest as last published. Not here: the night's own
warning (warehouse/checks/silent_bay.sql).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field

import duckdb
import polars as pl

from warehouse.build.model import models
from warehouse.home import Home
from warehouse.landing.exports.discover import present
from warehouse.landing.reference import read_csv
from warehouse.schema.raw import BAY, LESSON
from warehouse.settings import settings
from warehouse.settings.clock import age_in_words, nights_read, today

WEEK = dt.timedelta(days=6)
MENDABLE = dt.timedelta(days=14)
"""Without lessons, a bay that is silent longer than this is taken to have stopped."""


@dataclass
class Missing:
    """What is missing: a line for each bay and night with its remedy, and the whole in a sentence."""

    lines: list[str] = field(default_factory=list)
    summary: str = ""


def examine(home: Home, first: dt.date | None = None, last: dt.date | None = None) -> Missing:
    """Return what is missing of a span of nights; by default of the week before the last file through yesterday.

    Raises
    ------
    ValueError
        Nothing is published, a setting cannot be read, or the span is none.
    """
    if not home.current.exists():
        raise ValueError(f"nothing is published in {home.path} yet: run `academy nightly --home {home.path}`")
    chosen = settings.load(home.path)
    now = today(chosen)
    with duckdb.connect() as con:
        _prepare(con, home, chosen)
        (last_file,) = con.execute("select max(night) from published.ops.export_file where night <= "
                                   "getvariable('last_night')").fetchone() or (None,)  # fmt: skip
        end = last or now - dt.timedelta(days=1)
        begin = first or min(end, *([last_file] if last_file and not last else [])) - WEEK
        if begin > end:
            raise ValueError(f"{begin} to {end} is no span of nights: give --from before --to")
        rows = con.execute(
            f"select night, bay_id, lessons, expected_by from ({models()['mart.bay_expected'].select()}) "
            "where night between $1 and $2 and (expected_by = 'lessons' or $3 or night >= $4) order by all",
            [begin, end, bool(first or last), now - MENDABLE],
        ).fetchall()
        files = con.execute(
            "select night, bay_id, path, status, reason from published.ops.export_file where night between $1 and $2 "
            "order by all",
            [begin, end],
        ).fetchall()
    done = Missing(_lines(home, rows, files, begin, end))
    old = age_in_words(last_file, now)
    count = len(done.lines)
    what = "nothing is missing" if not count else f"{count} export{'s are' if count > 1 else ' is'} missing or refused"
    done.summary = f"{what}, {begin} to {end}" + (f". {old} The last night with a file is {last_file}." if old else "")
    return done


def _prepare(con: duckdb.DuckDBPyConnection, home: Home, chosen: settings.Settings) -> None:
    """Attach what is published, and put the academy's tables beside it as they lie now."""
    con.execute(f"attach '{str(home.current.resolve()).replace(chr(39), chr(39) * 2)}' as published (read_only)")
    read = nights_read(chosen)
    for name, day in (("today", today(chosen)), ("first_night", read.first), ("last_night", read.last)):
        con.execute(f"set variable {name} = date '{day}'")
    con.execute("create schema ops; create schema raw; create view ops.export_file as from published.ops.export_file")
    for table, columns in ((LESSON, {"bay_id": pl.String, "starts_at": pl.Datetime}), (BAY, {"bay_id": pl.String})):
        rows = read_csv.read(home.landing / "academy" / read_csv.file_name(table), table).rows
        frame = pl.DataFrame([{name: row[name] for name in columns} for row in rows], schema=columns)
        con.register("landed", frame)
        con.execute(f"create table {table.name} as from landed")
        con.unregister("landed")


def _lines(home: Home, rows: Sequence[tuple], files: Sequence[tuple], begin: dt.date, end: dt.date) -> list[str]:
    """Return what is missing, a line each with its remedy."""
    of_bay: dict[tuple[dt.date, str], list[tuple[str, str, str]]] = {}
    for night, bay_id, path, status, reason in files:
        of_bay.setdefault((night, bay_id), []).append((path, status, reason))
    known = {path for _, _, path, _, _ in files}
    waiting = [file for file in present(home.landing).files if begin <= file.night <= end and file.path not in known]
    due = {(night, bay_id): (lessons, why) for night, bay_id, lessons, why in rows}
    lines = [
        (file.night, f"{file.night} bay {file.bay_id}: shots/{file.path} lies there and is not read yet: run "
                     f"`academy nightly --home {home.path}`")
        for file in waiting
    ]  # fmt: skip
    there = {(file.night, file.bay_id) for file in waiting}
    for key in sorted({*due, *of_bay} - there):
        night, bay_id = key
        refused = [(path, reason) for path, status, reason in of_bay.get(key, []) if status == "refused"]
        lines += [(night, f"{night} bay {bay_id}: shots/{path} refused: {reason}") for path, reason in refused]
        if key not in of_bay:
            lessons, why = due[key]
            booked = f"{lessons} lesson{'s' if lessons != 1 else ''} booked"
            because = booked if why == "lessons" else f"it usually reports on a {night:%A}"
            said = f"{night} bay {bay_id}: no file, {because}: copy its export to landing/shots/{night}/{bay_id}.csv "
            lines.append((night, said + "or into landing/inbox; if nobody hit there, correct lessons.csv"))
    return [line for _, line in sorted(lines)]
