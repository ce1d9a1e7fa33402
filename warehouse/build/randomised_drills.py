"""Which drills of the log were done by lot: a view over raw tables, read by fingerprints of nights and by the models.

From the day of the draw on, the drill drawn counts as drawn as often as the trial has it done, whoever logged it and
whatever they took for its chooser, if it was done with a club of the trial's group; another drill never does. Not here:
lots (warehouse/trials/drawn.py), what was logged (models/stage/logged_drill.sql, which the view holds whole: it is read
when no night is being built, too).
"""

from __future__ import annotations

import duckdb

from warehouse.build.model import FOLDER
from warehouse.landing.exports.raw_tables import columns_held
from warehouse.schema import entered, raw
from warehouse.schema.registry import TABLES

LOGGED = FOLDER / "stage" / "logged_drill.sql"

DRAWN = """
create or replace view stage.drawn_drill as
-- one row: a drill of a lesson that a trial's lot gave to its student
with logged as (
    {logged}
),

lots as (
    -- moments of the notebook are UTC, those of the log the site's own
    select
        logged.* exclude (chosen_by),
        lot.* exclude (student_id, drill_id, drawn_at, given_up_at),
        lot.drawn_at,
        date_trunc('minute', timezone(site.timezone, timezone('UTC', lot.drawn_at))) as drawn_at_local,
        timezone(site.timezone, timezone('UTC', lot.given_up_at)) as given_up_at_local
    from logged
    join raw.bay as bay using (bay_id)
    join raw.site as site using (site_id)
    join raw.drawn_lot as lot on logged.student_id = lot.student_id and logged.drill_id = lot.drill_id
),

-- the club of most balls hit while the drill ran, as core.drill_episode takes it
struck as (
    select
        lots.lesson_id,
        lots.drill_id,
        lots.starts_at,
        club.club_group
    from (select distinct lesson_id, student_id, bay_id, drill_id, starts_at, ends_at from lots) as lots
    join stage.bay_clock as clock using (bay_id)
    join raw.shot as shot
        on lots.bay_id = shot.bay_id
        and lots.starts_at::date = shot.night
        and shot.struck_at_local - to_seconds(clock.ahead_seconds) >= lots.starts_at
        and shot.struck_at_local - to_seconds(clock.ahead_seconds) < lots.ends_at
        and coalesce(shot.student_id = lots.student_id, true)
    join stage.club as club on shot.club = club.club
    group by lots.lesson_id, lots.drill_id, lots.starts_at, club.club, club.club_group
    qualify row_number() over (
        partition by lots.lesson_id, lots.drill_id, lots.starts_at order by count(*) desc, club.club
    ) = 1
),

-- of nights whose raw shots are kept no longer, what was built of them
built as (
    select student_id, drill_id, begins_at as starts_at, club_group
    from core.drill_episode
    where kind = 'drill' and drill_shots > 0 and night not in (select distinct night from raw.shot)
),

-- a lot written down on its own day holds from its minute on, one written down later from the morning of its day; a
-- drill without a ball counts by the clubs that it is declared for
held as (
    select
        lots.*,
        row_number() over (
            partition by student_id, drill_id, drawn_at order by starts_at, lesson_id
        ) as use
    from lots
    left join struck using (lesson_id, drill_id, starts_at)
    left join built using (student_id, drill_id, starts_at)
    left join raw.drill as drill using (drill_id)
    where
        starts_at::date between drawn_on and coalesce(ends_on, 'infinity')
        and not (drawn_at_local::date = drawn_on and starts_at < drawn_at_local)
        and coalesce(starts_at < given_up_at_local, true)
        and lots.club_group in (
            'any',
            coalesce(struck.club_group, built.club_group, nullif(drill.club_group, 'any'), lots.club_group)
        )
)

select distinct lesson_id, drill_id, starts_at
from held
where use <= uses
"""


def make_view(connection: duckdb.DuckDBPyConnection) -> None:
    """Make the view, and the tables that it and core.free_arm read where no night has brought them in yet.

    Entered tables that an older version made otherwise are made again, empty: every night fills them anew.
    """
    of_entries = (entered.ENTERED_DRILL, entered.DRAWN_LOT, entered.FREE_START)
    for table in (*of_entries, raw.SHOT, raw.DRILL, TABLES["core.drill_episode"]):
        connection.execute(table.ddl())
    for table in of_entries:
        if columns_held(connection, table) != table.types:
            connection.execute(f"drop table {table.name}")
            connection.execute(table.ddl())
    (catalog,) = connection.execute("select current_database()").fetchone()
    # A view looks names up in its own database first, and stage is another one than core's.
    view = DRAWN.replace("{logged}", LOGGED.read_text(encoding="utf-8"))
    connection.execute(view.replace("from core.", f'from "{catalog}".core.'))
