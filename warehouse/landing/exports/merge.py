"""Several files of one bay and night: merged, and a shot that stands in more than one of them counted once.

The newest file keeps it. A shot is the same where times differ by less than a second and club, ball speed and launch
angle agree as far as exports round; or where the time is equal and each file has one shot then, since a bay hits one
ball at a time: so a corrected file under another name corrects. What is not counted stays in raw.repeated_shot and
comes back where the file that holds it changes or goes. Not here: the same shots in two bays (copies.py).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass

import duckdb

BALL_SPEED_AGREES, LAUNCH_AGREES = 0.3, 0.6
"""m/s and deg: half a mile an hour and half a degree, to which exports round at worst, and a little."""


@dataclass(frozen=True)
class Repeated:
    """How many of a file's shots are counted from another one of the same bay and night."""

    path: str
    kept_path: str
    shots: int
    loaded: int


def settle(con: duckdb.DuckDBPyConnection, bay_nights: Collection[tuple[dt.date, str]]) -> list[Repeated]:
    """Count every shot of these bays and nights once, and note in raw.export_file what each file gives.

    Returns
    -------
    list of Repeated
        By file and the file that keeps its shots.
    """
    if not bay_nights:
        return []
    wanted = sorted(bay_nights)
    con.execute(
        "create or replace temp table landing_merged as select path, night, bay_id, row_number() over ("
        "partition by night, bay_id order by modified_ns desc, path desc) as place, "
        "count(*) over (partition by night, bay_id) as files from raw.export_file as e join ("
        "select unnest($1)::date as night, unnest($2) as bay_id) as w using (night, bay_id) where e.in_force",
        [[night for night, _ in wanted], [bay for _, bay in wanted]],
    )
    merged = con.execute("from temp.landing_merged where files > 1 limit 1").fetchone()
    if merged is None and con.execute("from raw.repeated_shot limit 1").fetchone() is None:
        recount(con, [row[0] for row in con.execute("select path from temp.landing_merged").fetchall()])
        return []
    first, last = wanted[0][0], wanted[-1][0]
    con.execute(
        "create or replace temp table landing_candidate as "
        "select s.* from raw.shot as s semi join (from temp.landing_merged where files > 1) as f using (path) "
        "where night between $1 and $2 union all by name "
        "select s.* exclude (kept_path) from raw.repeated_shot as s "
        "join temp.landing_merged as f on f.path = s.path "
        "left join temp.landing_merged as k on k.path = s.kept_path and k.night = f.night and k.bay_id = f.bay_id "
        "where s.night between $1 and $2 and (k.path is not null or not exists ("
        "from raw.export_file as e where e.path = s.kept_path and e.in_force))",
        [first, last],
    )
    (candidates,) = con.execute("select count(*) from temp.landing_candidate").fetchone() or (0,)
    if candidates:
        _share_out(con, first, last)
    recount(con, [row[0] for row in con.execute("select path from temp.landing_merged").fetchall()])
    return [
        Repeated(*row)
        for row in con.execute(
            "select r.path, r.kept_path, count(*), any_value(e.rows_loaded) from raw.repeated_shot as r "
            "join temp.landing_merged as f on f.path = r.path join temp.landing_merged as k on k.path = r.kept_path "
            "and k.bay_id = f.bay_id "
            "join raw.export_file as e on e.path = r.path and e.in_force group by all order by all"
        ).fetchall()
    ]


def _share_out(con: duckdb.DuckDBPyConnection, first: dt.date, last: dt.date) -> None:
    """Put every candidate where it belongs: among the shots, or beside them where a newer file holds it."""
    con.execute(
        "create or replace temp table landing_twin as "
        "with file as ("
        "select path, bool_or(second(struck_at) <> 0) as fine from temp.landing_candidate group by path), "
        "shot as (select c.path, c.line, c.night, c.bay_id, c.struck_at, c.club, c.ball_speed, c.launch_angle, "
        "f.place, "
        "file.fine, epoch(c.struck_at) as at, floor(epoch(c.struck_at))::bigint as second, "
        "count(*) over (partition by c.path, c.struck_at) as at_once "
        "from temp.landing_candidate as c join temp.landing_merged as f using (path) join file using (path)), "
        "near as (select *, unnest([second - 1, second, second + 1]) as beside from shot) "
        "select older.path, older.line, arg_min(newer.path, newer.place) as kept_path from shot as older "
        "join near as newer on older.night = newer.night and older.bay_id = newer.bay_id "
        "and older.second = newer.beside where newer.place < older.place and ("
        "(abs(newer.at - older.at) < 1 and newer.club = older.club "
        "and coalesce(abs(newer.ball_speed - older.ball_speed) <= $1, true) "
        "and coalesce(abs(newer.launch_angle - older.launch_angle) <= $2, true)) "
        "or (newer.struck_at = older.struck_at and newer.at_once = 1 and older.at_once = 1 and newer.fine "
        "and older.fine)) group by older.path, older.line",
        [BALL_SPEED_AGREES, LAUNCH_AGREES],
    )
    for table in ("raw.shot", "raw.repeated_shot"):
        con.execute(f"delete from {table} as s using temp.landing_candidate as c where s.path = c.path "
                    "and s.line = c.line and s.night between $1 and $2", [first, last])  # fmt: skip
    con.execute("insert into raw.repeated_shot by name select c.*, t.kept_path from temp.landing_candidate as c "
                "join temp.landing_twin as t using (path, line)")  # fmt: skip
    con.execute("insert into raw.shot by name select c.* from temp.landing_candidate as c "
                "anti join temp.landing_twin using (path, line)")  # fmt: skip


def recount(con: duckdb.DuckDBPyConnection, paths: Collection[str]) -> None:
    """Note in raw.export_file what files in force give now: rows loaded, duplicate, and counted for another bay.

    Files of which no row is at hand, such as those of trimmed nights, stay as they were counted.
    """
    con.execute(
        "with counted as (select path, count(*) filter (kept_path is null) as loaded, "
        "count(*) filter (kept_path is not null and k.bay_id is distinct from s.bay_id) as aside from ("
        "select path, bay_id, null::varchar as kept_path from raw.shot where list_contains($1, path) "
        "union all select path, bay_id, kept_path from raw.repeated_shot where list_contains($1, path)) as s "
        "left join (select distinct path as kept_path, bay_id from raw.export_file) as k using (kept_path) "
        "group by path) "
        "update raw.export_file as e set rows_loaded = c.loaded, rows_set_aside = c.aside, "
        "rows_duplicate = e.rows_read - e.rows_rejected - c.loaded - c.aside, "
        "status = case when c.loaded > 0 then 'loaded' else 'replaced' end "
        "from counted as c where e.path = c.path and e.in_force",
        [list(paths)],
    )
