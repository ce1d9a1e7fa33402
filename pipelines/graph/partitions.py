"""Nights as daily partitions, from the earliest in landing/shots or in the inbox."""

from __future__ import annotations

from datetime import date, datetime

import dagster as dg

from warehouse.home import Home
from warehouse.landing.exports.discover import from_inbox, night_of
from warehouse.settings.clock import nights_read, today
from warehouse.settings.settings import Settings


def nights_landed(home: Home, settings: Settings) -> list[date]:
    """Return the nights that have a folder in landing/shots, or rows in the inbox as last unpacked, and are read."""
    read = nights_read(settings)
    shots = home.landing / "shots"
    found = (night_of(folder.name) for folder in (shots.iterdir() if shots.is_dir() else ()) if folder.is_dir())
    unpacked = (file.night for file in from_inbox(home.landing))
    return sorted({night for night in (*found, *unpacked) if night is not None and night in read})


def nights(home: Home, settings: Settings) -> dg.DailyPartitionsDefinition:
    """Return the partitions: every day from the first night landed through today (or a later night landed)."""
    landed = nights_landed(home, settings)
    now = today(settings)
    first = min([*landed, now])
    days_ahead = max((max([*landed, now]) - now).days, 0)
    return dg.DailyPartitionsDefinition(
        start_date=datetime.combine(first, datetime.min.time()),
        timezone=settings.academy.timezone,
        end_offset=days_ahead + 1,
    )


def range_tags(first: date, last: date) -> dict[str, str]:
    """Return the tags by which one run takes a range of nights."""
    return {
        "dagster/asset_partition_range_start": first.isoformat(),
        "dagster/asset_partition_range_end": last.isoformat(),
    }
