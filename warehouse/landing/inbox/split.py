"""A file's rows told apart by night and bay. A row that does not say its night goes with the row before it.

Not here: where the pieces are kept (store.py), and which files are cut (unpack.py).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from hashlib import sha256

import duckdb
import polars as pl

from warehouse.landing.cells.columns import BAY, NIGHT, READ, ZONE
from warehouse.landing.conversion.column_values import moment, said
from warehouse.landing.conversion.read_plan import Reading
from warehouse.landing.conversion.timestamps import local_and_utc
from warehouse.landing.lines.byte_scan import RefusedError
from warehouse.landing.lines.header import Header
from warehouse.landing.profile.profile import Profile

NO_BAY = "?"
"""The bay of rows that say none, where a make has several bays."""
OF_TIME = ("struck_at", "struck_at" + READ, ZONE)
OF_BAY, OF_NIGHT = "of_bay", "of_night"


def split(
    frame: pl.DataFrame, profile: Profile, zones: Mapping[str, str], all_zones: Mapping[str, str], shown: str
) -> dict[tuple[dt.date, str], pl.DataFrame]:
    """Return the rows of each night and bay.

    Parameters
    ----------
    frame
        A file read cell by cell.
    profile, shown
        How, and the profile's name for messages.
    zones
        The bays of this make and their sites' time zones.
    all_zones
        The same of every bay of the academy.

    Raises
    ------
    RefusedError
        It says neither which bay it is of, nor has its make only one; or no row says when it was struck.
    """
    frame = frame.with_columns(_bays(frame, profile, zones, shown))
    usual = next(iter(zones.values()), "UTC")
    nights = pl.Series(OF_NIGHT, [None] * frame.height, pl.Date)
    for zone in dict.fromkeys([usual, *all_zones.values()]):
        there = frame[OF_BAY].replace_strict(dict(all_zones), default=usual, return_dtype=pl.String) == zone
        if there.any():
            nights = nights.zip_with(~there, _nights(frame, profile, zone, shown))
    frame = frame.with_columns(nights)
    for over in (OF_BAY, None):
        filled = pl.col(OF_NIGHT).forward_fill(), pl.col(OF_NIGHT).backward_fill()
        filled = tuple(one.over(over) for one in filled) if over else filled
        frame = frame.with_columns(pl.coalesce(OF_NIGHT, *filled))
    if frame.height and frame[OF_NIGHT].null_count():
        told = frame["struck_at"].drop_nulls().head(1).to_list()
        raise RefusedError(
            f"no row says when it was struck{f': {told[0]!r} was found' if told else ''}; is timestamp_format right? "
            f"see {shown}"
        )
    parts = frame.partition_by(OF_NIGHT, OF_BAY, as_dict=True, maintain_order=True)
    return {(night, bay): part.drop(OF_BAY, OF_NIGHT) for (night, bay), part in parts.items()}  # type: ignore[misc]


def _bays(frame: pl.DataFrame, profile: Profile, zones: Mapping[str, str], shown: str) -> pl.Series:
    """Return each row's bay: as it says itself, else the only one of its make."""
    only = next(iter(zones)) if len(zones) == 1 else None
    place = profile.inbox.bay
    if place is None or BAY not in frame.columns:
        if only is None:
            known = f"bays.csv names {', '.join(sorted(zones)[:8])} for it" if zones else "bays.csv names none for it"
            raise RefusedError(
                f"says nowhere which bay it is of, and {known}: add [inbox] bay = {{ from = ... }} to {shown}"
            )
        return pl.Series(OF_BAY, [only] * frame.height, pl.String)
    mapping = {name.strip().casefold(): bay for name, bay in (place.map or {}).items()}
    told = frame[BAY].str.strip_chars()
    bays = {name: mapping.get(name.casefold(), name) for name in told.drop_nulls().unique().to_list() if name}
    known = told.replace_strict(bays, default=None, return_dtype=pl.String) if bays else pl.lit(None, pl.String)
    return frame.select(pl.Series(OF_BAY, known).fill_null(only or NO_BAY) if bays else
                        pl.repeat(only or NO_BAY, frame.height).alias(OF_BAY)).to_series()  # fmt: skip


def _nights(frame: pl.DataFrame, profile: Profile, zone: str, shown: str) -> pl.Series:
    """Return each row's night: as it says itself, else its own local date; null where neither can be read."""
    if profile.inbox.night is not None and NIGHT in frame.columns:
        told = frame[NIGHT].str.strip_chars().str.to_date(profile.inbox.night.format, strict=False)
        if told.null_count() < told.len():
            return told.alias(OF_NIGHT)
    names = [name for name in OF_TIME if name in frame.columns]
    plan = Reading(profile, shown, Header(tuple(names)), "", ("VARCHAR",) * len(names), zone, cells=True)
    naive, absolute = moment(plan)
    local, _ = local_and_utc("instant", "absolute", profile.file.timezone, zone)
    with duckdb.connect() as con:
        con.execute("set timezone = 'UTC'")
        columns = ", ".join(f"unnest(${at}::varchar[]) as c{at}" for at in range(1, len(names) + 1))
        told = con.execute(
            f"with told as (select {columns}), "
            f"said as (select *, {said(plan, 'struck_at')} as said_struck_at from told), "
            f"moments as (select {naive} as instant, {absolute} as absolute from said) "
            f"select ({local})::date from moments",
            [frame[name].to_list() for name in names],
        ).fetchall()
    return pl.Series(OF_NIGHT, [row[0] for row in told], pl.Date)


def content_of(piece: pl.DataFrame) -> str:
    """Return a hash of a piece's rows, whatever lines they stand on: a file that grows at its head keeps its pieces."""
    told = piece.drop("line", "place").with_columns(pl.all().fill_null("\x00"))
    digest = sha256("\x1f".join(told.columns).encode())
    for text in told.select(pl.concat_str(pl.all(), separator="\x1f")).to_series():
        digest.update(text.encode("utf-8", "surrogatepass") + b"\x1e")
    return digest.hexdigest()[:24]
