"""Deliveries read into sentences: by the nightly build for latest sessions, and on demand for one block or one shot.

Not here: the words and the costs (warehouse/domain/reading*.py).
"""

from __future__ import annotations

from datetime import datetime

import duckdb
import polars as pl

from warehouse.domain.delivery import explain
from warehouse.domain.delivery.explain_costs import NEEDS
from warehouse.schema.metrics import METRIC
from warehouse.settings.settings import Settings

MIRRORED = [name for name in NEEDS if METRIC[name].mirrored]
OFFSETS = """
offsets as (
    select
        epoch.metric,
        arg_max_null(epoch.bay_offset, epoch.from_date)
        * case when student.handed = 'left' and list_contains($mirrored, epoch.metric) then -1 else 1 end as bay_offset
    from core.bay_epoch as epoch
    join picked on epoch.bay_id = picked.bay_id and epoch.from_date <= picked.night
    left join mart.student as student on picked.student_id = student.student_id
    group by epoch.metric, student.handed
)

select
    picked.student_id,
    picked.club_group,
    picked.air_density,
    measured.metric,
    measured.centre - coalesce(offsets.bay_offset, 0) as centre
from measured
cross join picked
left join offsets on measured.metric = offsets.metric
"""
OF_BLOCK = f"""
with measured as (
    select metric, centre
    from core.block
    where session_id = $session_id and segment = $segment and club = $club
),

picked as (
    select
        student_id,
        bay_id,
        night,
        club_group,
        avg(air_density::decimal(18, 9)) as air_density
    from core.shot
    where session_id = $session_id and segment = $segment and club = $club and usable
    group by student_id, bay_id, night, club_group
),
{OFFSETS}"""
OF_SHOT = f"""
with picked as (
    select *
    from core.shot
    where session_id = $session_id and struck_at_local = $struck_at_local and path = $path and line = $line
),

measured as (
    unpivot (select {", ".join(NEEDS)} from picked) on columns(*) into name metric value centre
),
{OFFSETS}"""


def read_block(
    connection: duckdb.DuckDBPyConnection, settings: Settings, *, session_id: str, segment: int, club: str
) -> pl.DataFrame:
    """Return the sentences about one block of free shots, from a published file.

    Parameters
    ----------
    session_id, segment, club
        A row of core.block.

    Returns
    -------
    polars.DataFrame
        place, kind, metric, cost (m), sentence; no row where there is no such block.
    """
    asked = {"session_id": session_id, "segment": segment, "club": club, "mirrored": MIRRORED}
    return _one(connection.execute(OF_BLOCK, asked).pl(), settings)


def read_shot(
    connection: duckdb.DuckDBPyConnection,
    settings: Settings,
    *,
    session_id: str,
    struck_at_local: datetime,
    path: str,
    line: int,
) -> pl.DataFrame:
    """Return the same about one attributed shot of core.shot, mishits and shots during a drill included."""
    asked = {
        "session_id": session_id, "struck_at_local": struck_at_local, "path": path, "line": line, "mirrored": MIRRORED,
    }  # fmt: skip
    return _one(connection.execute(OF_SHOT, asked).pl(), settings)


def _one(centres: pl.DataFrame, settings: Settings) -> pl.DataFrame:
    told = read(centres, ["student_id", "club_group", "air_density"], settings)
    return told.select("place", "kind", "metric", "cost", "sentence")


def read(centres: pl.DataFrame, key: list[str], settings: Settings) -> pl.DataFrame:
    """Return the sentences about many deliveries, all flown together.

    Parameters
    ----------
    centres
        `key` (student_id, club_group and air_density among it), metric, centre: offsets removed, one row a metric.
    key
        Columns that together name a delivery; they come back with its sentences.

    Returns
    -------
    polars.DataFrame
        `key`, place, kind, metric, cost, sentence.
    """
    needed = centres.filter(pl.col("metric").is_in(NEEDS))
    wide = needed.pivot("metric", index=key, values="centre").sort(key)
    limits = settings.flight
    high = pl.col("student_id").replace_strict(limits.student_attack_high, default=None, return_dtype=pl.Float64)
    usual = pl.lit(limits.attack_high.get("driver"), dtype=pl.Float64)
    deliveries = wide.with_columns(attack_high=pl.coalesce(high, usual))
    told = explain.read_deliveries(deliveries, units=settings.units.system)
    named = deliveries.select(key).with_row_index("delivery").with_columns(pl.col("delivery").cast(pl.Int64))
    return named.join(told, on="delivery", maintain_order="right").drop("delivery")
