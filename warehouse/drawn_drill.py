"""Which drills of the log were done by lot: a view over raw tables, read by fingerprints of nights and by the models.

From the day of the draw on, the drill drawn counts as drawn as often as the trial has it done, whoever logged it and
whatever they took for its chooser; another drill never does. Not here: lots (warehouse/trials/drawn.py).
"""

from __future__ import annotations

import duckdb

from warehouse.schema import entered

VIEW = """
create or replace view stage.drawn_drill as
-- one row: a drill of a lesson that a trial's lot gave to its student
with logged as (
    select lesson_id, drill_id, starts_at
    from raw.drill_log
    union
    select coalesce(entry.lesson_id, lesson.lesson_id), entry.drill_id, entry.starts_at
    from raw.entered_drill as entry
    left join raw.lesson as lesson
        on entry.student_id = lesson.student_id
        and entry.bay_id = lesson.bay_id
        and entry.starts_at >= lesson.starts_at
        and entry.starts_at < lesson.ends_at
),

-- moments of the notebook are UTC, those of the log the site's own
lots as (
    select
        logged.*,
        lot.* exclude (drill_id, drawn_at, given_up_at),
        lot.drawn_at,
        date_trunc('minute', timezone(site.timezone, timezone('UTC', lot.drawn_at))) as drawn_at_local,
        timezone(site.timezone, timezone('UTC', lot.given_up_at)) as given_up_at_local
    from logged
    join raw.lesson as lesson using (lesson_id)
    join raw.bay as bay using (bay_id)
    join raw.site as site using (site_id)
    join raw.drawn_lot as lot on lesson.student_id = lot.student_id and logged.drill_id = lot.drill_id
),

-- a lot written down on its own day holds from its minute on, one written down later from the morning of its day
held as (
    select
        *,
        row_number() over (
            partition by student_id, drill_id, drawn_at order by starts_at, lesson_id
        ) as use
    from lots
    where
        starts_at::date between drawn_on and coalesce(ends_on, 'infinity')
        and not (drawn_at_local::date = drawn_on and starts_at < drawn_at_local)
        and coalesce(starts_at < given_up_at_local, true)
)

select distinct lesson_id, drill_id, starts_at
from held
where use <= uses
"""


def make_view(connection: duckdb.DuckDBPyConnection) -> None:
    """Make the view, and the entered tables that it reads where no night has brought them in yet."""
    for table in (entered.ENTERED_DRILL, entered.DRAWN_LOT):
        connection.execute(table.ddl())
    connection.execute(VIEW)
