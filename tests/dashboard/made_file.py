"""A small published file made from the declarations, with numbers by chance: it proves that pages read, no more."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import duckdb
import numpy as np
from made_bays import fill_bays
from made_drills import fill_drills
from made_lists import fill_lists
from made_people import fill_carry, fill_core, fill_goals, fill_students, sessions, shots
from made_tables import START, TABLES, WEEKS, fill

from warehouse.schema.metrics import CLUB_GROUPS, METRICS


def make(path: Path, *, empty: bool = False) -> None:
    """Write a published file; an empty one has every table and a publication, and nothing else but metrics."""
    rng = np.random.default_rng(7)
    path.parent.mkdir(parents=True, exist_ok=True)
    connection = duckdb.connect(str(path))
    for schema in ("core", "mart", "ops"):
        connection.execute(f"create schema {schema}")
    for table in TABLES.values():
        body = ", ".join(f'"{column.name}" {column.type}' for column in table.columns)
        connection.execute(f"create table {table.name} ({body})")
    fill(
        connection,
        "mart.metric",
        [
            {
                "metric": m.name,
                "club_group": g,
                "label": m.label,
                "unit": m.unit,
                "display_unit": m.display_unit,
                "per_display_unit": m.per_display_unit,
                "decimals": m.decimals,
                "low": m.low,
                "high": m.high,
                "matters_from": m.matters_from,
                "better": m.better_for(g),
                "derived": m.derived,
                "description": m.description,
            }
            for m in METRICS
            for g in CLUB_GROUPS
        ],
    )
    fill(
        connection,
        "mart.dictionary",
        [
            {
                "table_name": t.name,
                "column_name": c.name,
                "type": c.type,
                "unit": c.unit,
                "nullable": c.nullable,
                "description": c.description,
            }
            for t in TABLES.values()
            for c in t.columns
        ],
    )
    nights = [START + timedelta(days=d) for d in range(7 * WEEKS)]
    fill(
        connection,
        "ops.publication",
        [
            {
                "published_at": datetime(2031, 4, 14, 3, 12),
                "through_night": None if empty else nights[-1],
                "nights": 42,
                "shots": 2400,
                "sessions": 120,
                "episodes": 60,
                "nights_built": 1,
                "warnings": "",
            }
        ],
    )
    if not empty:
        played = sessions(rng)
        fill_core(connection, played, shots(rng, played))
        fill_students(connection, rng, played)
        fill_goals(connection)
        fill_lists(connection)
        fill_carry(connection)
        fill_drills(connection, rng)
        fill_bays(connection, rng, nights[-16:])
    connection.close()


def make_home(home: Path, *, empty: bool = False) -> Path:
    """Write a home with a published version and the link to it."""
    version = home / "published" / "2031-04-14T0312.duckdb"
    make(version, empty=empty)
    (home / "published" / "current.duckdb").symlink_to(version.name)
    return home
