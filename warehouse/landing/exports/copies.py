"""The same shots in files of two bays: one bay's file under another's name. They are counted in one bay only.

A shot is the same by the second, the club and both numbers that every shot has; three such in two bays are no chance.
Which bay keeps them: the one in which the lesson book has those students then; else the one loaded before; else the
older file. Not here: the same shots in two files of one bay (merge.py).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import duckdb

from warehouse.landing.exports.inspect import Inspected

FEWEST = 3
"""Equal shots in two bays from which on they are taken for copies."""
SAME = (
    "a.struck_at_local = b.struck_at_local and a.club = b.club and a.ball_speed is not distinct from b.ball_speed "
    "and a.launch_angle is not distinct from b.launch_angle"
)


@dataclass(frozen=True)
class Copy:
    """A file of another bay with the same shots: how many, whether this file keeps them, and else how many it loses."""

    path: str
    bay_id: str
    content_hash: str
    shots: int
    wins: bool
    lost: int = 0


def find(con: duckdb.DuckDBPyConnection, batch: Sequence[Inspected]) -> dict[int, list[Copy]]:
    """Return the copies that each file of a converted batch has among what is loaded and in the batch itself."""
    con.execute(
        "create or replace temp table landing_copy as "
        "with mine as (select r.file_id, r.line, f.path, f.bay_id, f.night, "
        "r.struck_at_local, r.club, r.ball_speed, r.launch_angle, r.student_id from temp.landing_row as r "
        "join temp.landing_file as f using (file_id) where r.code = 0 and not r.duplicate), "
        "other as (select path, bay_id, night, struck_at_local, club, ball_speed, launch_angle, true as held "
        "from raw.shot where night between $1 and $2 and path not in (select path from temp.landing_file) "
        "union all select path, bay_id, night, struck_at_local, club, ball_speed, launch_angle, false from mine) "
        "select a.file_id, a.line, a.path, a.bay_id, a.struck_at_local, a.student_id, b.path as other_path, "
        f"b.bay_id as other_bay, b.held from mine as a join other as b on a.night = b.night and {SAME} "
        "where a.bay_id <> b.bay_id",
        [min(file.file.night for file in batch), max(file.file.night for file in batch)],
    )
    if con.execute("from temp.landing_copy limit 1").fetchone() is None:
        return {}
    pairs = con.execute(
        "with booked as (select c.*, "
        "exists (from raw.lesson as l where l.bay_id = c.bay_id and l.student_id = c.student_id "
        "and c.struck_at_local >= l.starts_at and c.struck_at_local < l.ends_at) as here, "
        "exists (from raw.lesson as l where l.bay_id = c.other_bay and l.student_id = c.student_id "
        "and c.struck_at_local >= l.starts_at and c.struck_at_local < l.ends_at) as there from temp.landing_copy as c) "
        "select file_id, other_path, other_bay, bool_or(held), count(distinct line), count(*) filter (here), "
        "count(*) filter (there), coalesce((select any_value(content_hash) from raw.export_file as e "
        "where e.path = other_path and e.in_force), '') from booked group by all "
        "having count(distinct line) >= $1 order by all",
        [FEWEST],
    ).fetchall()
    order = {file.file.path: (file.file.modified_ns, file.file.path) for file in batch}
    hashes = {file.file.path: file.content_hash for file in batch}
    found: dict[int, list[Copy]] = {}
    for file_id, path, bay_id, held, shots, here, there, content in pairs:
        older = not held and order[batch[file_id].file.path] < order[path]
        wins = here > there or (here == there and older)
        copy = Copy(path, bay_id, content if held else hashes.get(path, ""), shots, wins, 0 if wins else shots)
        found.setdefault(file_id, []).append(copy)
    return {file_id: sorted(same, key=lambda copy: -copy.shots) for file_id, same in found.items()}


def set_aside(con: duckdb.DuckDBPyConnection, losers: Iterable[tuple[str, str]]) -> None:
    """Set aside, in a file, the shots that another bay's file keeps; pairs of (path that loses, path that keeps)."""
    for path, kept in losers:
        con.execute(
            "create or replace temp table landing_aside as select a.path, a.line from raw.shot as a "
            f"join raw.shot as b on a.night = b.night and {SAME} where a.path = $1 and b.path = $2",
            [path, kept],
        )
        con.execute(
            "insert into raw.repeated_shot by name select s.*, $1 as kept_path from raw.shot as s "
            "semi join temp.landing_aside using (path, line)",
            [kept],
        )
        con.execute("delete from raw.shot as s using temp.landing_aside as w where s.path = w.path and s.line = w.line")


def bring_back(con: duckdb.DuckDBPyConnection, paths: Sequence[str]) -> list[str]:
    """Put back what other bays' files lost to these paths and these no longer hold; return the files it is in."""
    if con.execute("from raw.repeated_shot limit 1").fetchone() is None:
        return []
    con.execute(
        "create or replace temp table landing_aside as select a.path, a.line from raw.repeated_shot as a "
        "join raw.export_file as e on e.path = a.path and e.in_force "
        "where list_contains($1, a.kept_path) and not exists (from raw.shot as b where b.path = a.kept_path "
        f"and b.night = a.night and {SAME})",
        [list(paths)],
    )
    con.execute("insert into raw.shot by name select s.* exclude (kept_path) from raw.repeated_shot as s "
                "semi join temp.landing_aside using (path, line)")  # fmt: skip
    con.execute("delete from raw.repeated_shot as s using temp.landing_aside as w "
                "where s.path = w.path and s.line = w.line")  # fmt: skip
    return [row[0] for row in con.execute("select distinct path from temp.landing_aside order by all").fetchall()]
