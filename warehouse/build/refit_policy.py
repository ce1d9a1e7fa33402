"""When the tables fitted to the whole history are made anew: every night while it is small, else as it grows.

A fit over millions of shots hardly moves with one more night, and costs all of them. Past a size that settings name it
is carried over until the history has changed by a stated share, a new week has begun, or something it rests on
changed: code, settings, drills, bays, sites, events of bays and sites, a known student's consent or hand. Not here:
what a run during the day makes (pipelines/graph/same_day_job.py), whether what is carried over is whole (freshness.py).
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import duckdb

from warehouse.build import freshness
from warehouse.build.fingerprints import UNAUDITED
from warehouse.settings.settings import Settings

FITTED = frozenset({
    "core.bay_epoch", "mart.bay_clock", "mart.bay_week", "mart.cohort_carry", "mart.cohort_change",
    "mart.cohort_student", "mart.setup_association", "mart.student_change", "mart.student_list", "mart.carry_source",
    "mart.carry_source_summary", "mart.drill_effect", "mart.drill_side_effect", "mart.student_response",
    "mart.subgroup_effect", "mart.drill_forecast",
})  # fmt: skip
"""Tables that cost the whole history: fits, and what is made of every episode or first block by them. Levels, first
blocks and episodes of new nights stand on the offsets carried over (build.MADE_FROM)."""

RESTS_ON = """
select md5(concat_ws(
    ' ',
    $1,
    (select string_agg(bay::varchar, ' ' order by bay_id) from raw.bay as bay),
    (select string_agg(site::varchar, ' ' order by site_id) from raw.site as site),
    (select string_agg(term::varchar, ' ' order by term_id) from raw.term as term),
    (select string_agg(drill::varchar, ' ' order by drill_id) from raw.drill as drill),
    (
        select string_agg(event::varchar, ' ' order by event::varchar)
        from raw.event as event
        where scope in ('site', 'bay')
    ),
    (
        select
            string_agg(
                concat_ws(' ', student_id, handed, consent, coalesce(consent_evidence, consent)), ' '
                order by student_id
            )
        from raw.student
        semi join (select student_id from core.session where night <= $2) as seen using (student_id)
    )
))
"""
CHANGED = f"""
with nights as (
    select
        night,
        coalesce(now.shots, held.shots) as shots,
        replace(now.fingerprint, '{UNAUDITED}', '') is distinct from held.fingerprint as changed
    from ops.night as now
    full join raw.evidence_night as held using (night)
)

select coalesce(sum(shots) filter (changed), 0), sum(shots), min(night) filter (changed)
from nights
"""


def rests_on(connection: duckdb.DuckDBPyConnection, settings: Settings) -> str:
    """Return a digest of what the fits rest on beside the nights, for students seen through the evidence's last one."""
    through = connection.execute("select max(night) from raw.evidence_night").fetchone()[0]
    return connection.execute(RESTS_ON, [settings.model_dump_json(), through]).fetchone()[0]


def note(connection: duckdb.DuckDBPyConnection, settings: Settings) -> None:
    """Keep, as evidence is published, from what it was made: the nights, and a digest of the rest."""
    connection.execute(
        "create or replace table raw.evidence_night as select night, fingerprint, shots, '' as rests_on from ops.night"
    )
    connection.execute("update raw.evidence_night set rests_on = ?", [rests_on(connection, settings)])


def due(connection: duckdb.DuckDBPyConnection, settings: Settings) -> str | None:
    """Return why the fitted tables are to be made anew, or None where they are carried over.

    Called once a run, when reference tables are read and nights are built. Where they are due, marks them as being
    made: until they are published nothing may carry them over.
    """
    connection.execute(
        "create table if not exists raw.evidence_night "
        "(night date, fingerprint varchar, shots bigint, rests_on varchar)"
    )
    why = reason(connection, settings, datetime.now(UTC))
    if why is not None:
        freshness.unsettle(connection)
    return why


def made_from(connection: duckdb.DuckDBPyConnection, settings: Settings) -> date:
    """Return from which Monday on rows may differ from what the evidence was made of; follow-ups reach back."""
    first = connection.execute(CHANGED).fetchone()[2] or date.max
    first -= timedelta(days=settings.episodes.retention_days)
    return first - timedelta(days=first.weekday())


def reason(connection: duckdb.DuckDBPyConnection, settings: Settings, now: datetime) -> str | None:
    """Return why the fitted tables are due, or None; changes nothing."""
    rule = settings.evidence
    changed, shots, _ = connection.execute(CHANGED).fetchone()
    if not freshness.settled(connection):
        return "there is none that is whole and of this program"
    if (shots or 0) <= rule.every_night_up_to_shots:
        return f"every night up to {rule.every_night_up_to_shots:,} shots"
    if changed >= rule.renew_from_share * shots:
        return f"{changed / shots:.1%} of the history is new or changed"
    held = connection.execute("select min(rests_on) from raw.evidence_night").fetchone()[0]
    if held != rests_on(connection, settings):
        return "what it rests on beside the nights changed"
    made_at = connection.execute(
        "select made_at from ops.current_through where part = ?", [freshness.EVIDENCE]
    ).fetchone()[0]
    zone = ZoneInfo(settings.academy.timezone)
    made, today = (moment.astimezone(zone).date() for moment in (made_at.replace(tzinfo=UTC), now))
    return "a new week has begun" if made.isocalendar()[:2] != today.isocalendar()[:2] else None
