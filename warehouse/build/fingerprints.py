"""Which nights have to be built: those whose inputs are no longer what they were when the night was last built."""

from __future__ import annotations

from datetime import date

import duckdb

from warehouse.build import raw_retention
from warehouse.build.model import night_code_hash
from warehouse.schema.registry import TABLES
from warehouse.settings.clock import NightRange
from warehouse.settings.settings import Settings

NO_FILE = "no export in force"
"""The fingerprint of a night of which every export was taken back: its rows go, and it is in no book any more."""
UNAUDITED = "not yet audited "
"""Stands before a fingerprint in ops.night until the night's blocking checks have passed: a night that failed them, or
whose run was killed before them, is audited again by the next run, and cannot slip through as already built."""

# Hashed twice: a hash of several values ends in an xor with its last, so what rows share there would cancel out.
FINGERPRINTS = """
with files as (
    select night, bit_xor(hash(hash(path, content_hash, settings_hash))) as of_files
    from raw.export_file
    where in_force
    group by night
),

bookings as (
    select
        unnest(generate_series(lesson.starts_at::date, lesson.ends_at::date, interval 1 day))::date as night,
        lesson.* exclude (line),
        student.handed
    from raw.lesson as lesson
    left join raw.student as student using (student_id)
),

lessons as (
    select night, bit_xor(hash(hash(lesson_id, student_id, coach_id, bay_id, starts_at, ends_at, handed))) as of_lessons
    from bookings
    group by night
),

log as (
    select
        log.lesson_id,
        null as student_id,
        log.drill_id,
        -- a drill without times belongs to its lesson's night
        coalesce(log.starts_at, lesson.starts_at) as starts_at,
        log.ends_at,
        log.chosen_by
    from raw.drill_log as log
    left join raw.lesson as lesson using (lesson_id)
    union all
    select lesson_id, student_id, drill_id, starts_at, ends_at, chosen_by
    from raw.entered_drill
),

drills as (
    select
        starts_at::date as night,
        bit_xor(hash(hash(lesson_id, student_id, drill_id, starts_at, ends_at, chosen_by))) as of_drills
    from log
    group by night
),

drawn as (
    select starts_at::date as night, bit_xor(hash(hash(lesson_id, drill_id, starts_at))) as of_drawn
    from stage.drawn_drill
    group by night
),

people as (
    select shots.night, bit_xor(hash(hash(shots.student_id, student.handed))) as of_people
    from (
        select night, student_id
        from raw.shot
        where student_id is not null
        union
        select night, student_id
        from raw.trimmed_student
    ) as shots
    left join raw.student as student using (student_id)
    group by shots.night
),

set_aside as (
    select starts_at::date as night, bit_xor(hash(hash(bay_id, starts_at, ends_at, kind))) as of_set_aside
    from raw.set_aside
    group by night
),

set_air as (
    select unnest($air_bays::varchar[]) as bay_id, unnest($air_densities::double[]) as air_density
),

-- a bay that is no longer in bays.csv is not among them: its nights are built again without it, and again with it
bays as (
    select
        exported.night,
        bit_xor(hash(hash(
            bay.bay_id, bay.site_id, bay.setting, bay.ball, site.altitude_m, clock.ahead_seconds, set_air.air_density
        ))) as of_bays
    from (select distinct night, bay_id from raw.export_file where in_force) as exported
    join raw.bay as bay using (bay_id)
    join raw.site as site using (site_id)
    join stage.bay_clock as clock using (bay_id)
    left join set_air using (bay_id)
    group by exported.night
)

select
    files.night,
    hash(of_files, of_lessons, of_drills, of_drawn, of_people, of_set_aside, of_bays, $rules)::varchar as fingerprint
from files
left join lessons using (night)
left join drills using (night)
left join drawn using (night)
left join people using (night)
left join set_aside using (night)
left join bays using (night)
"""


def changed(connection: duckdb.DuckDBPyConnection, settings: Settings) -> dict[date, str]:
    """Return the nights to build, each with the fingerprint of its inputs."""
    raw_retention.create_tables(connection)
    rules = f"{night_code_hash()} {settings.episodes.model_dump_json()} {settings.flight.model_dump_json()}"
    rules += "".join(f" {bay_id} looked at" for bay_id in settings.numbers_checked())
    air = settings.set_air()
    rows = connection.execute(
        f"with now as ({FINGERPRINTS}) select now.night, now.fingerprint from now "
        "left join ops.night as built using (night) "
        "where not coalesce(built.fingerprint in (now.fingerprint, $unaudited || now.fingerprint), false) "
        f"union all select night, '{NO_FILE}' from ops.night anti join now using (night) "
        "order by night",
        {"rules": rules, "unaudited": UNAUDITED, "air_bays": list(air), "air_densities": list(air.values())},
    ).fetchall()
    return dict(rows)


def withdraw(connection: duckdb.DuckDBPyConnection, read: NightRange) -> list[date]:
    """Take out nights that nobody can have had, read by an earlier version; return them.

    One night of the year 2199 would stay the latest of every table.
    """
    outside = {"first": read.first, "last": read.last}
    withdrawn = connection.execute(
        "select distinct night from raw.export_file where in_force and (night < $first or night > $last)", outside
    ).fetchall()
    if not withdrawn:
        return []
    there = {name for (name,) in connection.execute(
        "select schema_name || '.' || table_name from duckdb_tables()").fetchall()}  # fmt: skip
    by_night = {name for name, table in TABLES.items() if table.night is not None} | {"ops.night"}
    for name in sorted((by_night & there) | {"raw.shot", "raw.rejected_row"}):
        connection.execute(f"delete from {name} where night < $first or night > $last", outside)
    connection.execute("delete from raw.export_file where in_force and (night < $first or night > $last)", outside)
    return sorted(night for (night,) in withdrawn)


def audited(connection: duckdb.DuckDBPyConnection) -> None:
    """Note that the nights of stage.night have passed their blocking checks."""
    connection.execute(
        "update ops.night set fingerprint = replace(fingerprint, $1, '') "
        "where night in (select night from stage.night) and starts_with(fingerprint, $1)",
        [UNAUDITED],
    )
