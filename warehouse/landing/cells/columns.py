"""The profile's columns out of a table's: joined where they are several, clubs and players read, times made plain.

What a cell says stays beside what was read from it, so that a rejection can show it. Not here: numbers, units, signs
and moments (convert_sql.py).
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Literal

import polars as pl
from babel import Locale
from babel.dates import get_day_names, get_month_names

from warehouse.landing.cells.clubs import read_club
from warehouse.landing.cells.people import Students
from warehouse.landing.cells.table import COLUMN
from warehouse.landing.conversion.timestamps import NO_ZONE
from warehouse.landing.profile.file_shape import time_zones
from warehouse.landing.profile.profile import Profile

FIXED = {"line": pl.Int64, "place": pl.String, "fault": pl.String, "whole": pl.String}
"""What every row has beside the profile's columns."""
READ = "_read"
"""Behind the name of a column that holds what was read from another."""
ZONE, BAY, NIGHT = "zone", "bay_said", "night_said"
OFFSET = re.compile(r"^(?:UTC|GMT)?\s*([+-])\s*([0-9]{1,2})(?::?([0-9]{2}))?$")
HALF_OF_DAY = r"(?i)\b([ap])[.\s]?\s?m\b\.?"


def canonical(rows: pl.DataFrame, profile: Profile, students: Students) -> pl.DataFrame:
    """Return rows with the profile's canonical columns as text, in place of the file's.

    Parameters
    ----------
    rows
        What table.py or json_rows.py returned.
    profile
        How they are read.
    students
        For names to be looked up in.

    Returns
    -------
    polars.DataFrame
        line, place, fault, whole; one column of text for each mapped column whose sources are there; club_read,
        struck_at_read, zone, bay_said and night_said where the profile speaks of them.
    """
    nulls = {"", *(token.strip() for token in profile.file.nulls)}
    made = [pl.col(name).cast(kind) for name, kind in FIXED.items()]
    made += [
        _joined(column.sources, rows).alias(name)
        for name, column in profile.columns.items()
        if any(COLUMN + source in rows.columns for source in column.sources)
    ]
    places = {ZONE: profile.columns["struck_at"].zone}
    places |= {name: place.source for name, place in ((BAY, profile.inbox.bay), (NIGHT, profile.inbox.night)) if place}
    made += [_joined((source,), rows).alias(name) for name, source in places.items()
             if source and COLUMN + source in rows.columns]  # fmt: skip
    frame = rows.select(made)
    frame = frame.with_columns(_plain_time(profile).alias("struck_at" + READ))
    club = profile.columns["club"]
    if club.spelling == "any":
        frame = _each(frame, "club", "club" + READ, lambda said: read_club(said, club.map))
    player = profile.columns.get("student_id")
    if player and "student_id" in frame.columns and player.lookup != "id":
        mapping = {key.strip(): value for key, value in (player.map or {}).items()}
        found = lambda said: None if said in nulls else mapping.get(said) or students.find(said, player.lookup)  # noqa: E731
        frame = _each(frame, "student_id", "student_id", found)
    if ZONE in frame.columns:
        frame = _each(frame, ZONE, ZONE, lambda said: None if said in nulls else read_zone(said))
    return frame


def _joined(sources: tuple[str, ...], rows: pl.DataFrame) -> pl.Expr:
    """Return the cells of columns joined by a blank; null where none says anything."""
    there = [pl.col(COLUMN + source).str.strip_chars() for source in sources if COLUMN + source in rows.columns]
    told = pl.concat_str([pl.when(cell != "").then(cell) for cell in there], separator=" ", ignore_nulls=True)
    return pl.when(told != "").then(told)


def _each(frame: pl.DataFrame, name: str, result: str, read: Callable[[str], str | None]) -> pl.DataFrame:
    """Return a frame with a column read value by value, each distinct one once."""
    known = {said: read(said) for said in frame[name].drop_nulls().unique().to_list()}
    return frame.with_columns(
        pl.col(name).replace_strict(known, default=None, return_dtype=pl.String).alias(result)
        if known
        else pl.lit(None, pl.String).alias(result)
    )


def _plain_time(profile: Profile) -> pl.Expr:
    """Return times as the database's formats can read them: plain blanks, AM and PM, English names of months."""
    told = pl.col("struck_at").str.replace_all(r"[\s\u{a0}\u{202f}]+", " ")
    formats = [form for form in profile.file.formats if form]
    language = profile.file.language
    if language and not language.startswith("en") and any("%b" in f or "%B" in f or "%p" in f for f in formats):
        width = "wide" if any("%B" in form or "%A" in form for form in formats) else "abbreviated"
        for name, english in _english(language, width):
            told = told.str.replace_all(
                rf"(?i)(^|[^\p{{L}}]){re.escape(name)}\.?($|[^\p{{L}}])", f"${{1}}{english}${{2}}"
            )
    if any("%p" in form for form in formats):
        told = told.str.replace_all(HALF_OF_DAY, "${1}M").str.replace_all(r"(?i)([ap])M", "${1}M")
    return told


def _english(language: str, told: Literal["wide", "abbreviated"]) -> list[tuple[str, str]]:
    """Return a language's names of months, days and halves of the day, short and long, and the English for each."""
    locale = Locale.parse(language, sep="-" if "-" in language else "_")
    pairs = dict[str, str]()
    for width in ("wide", "abbreviated"):
        for context in ("format", "stand-alone"):
            for names in (get_month_names, get_day_names):
                ours, theirs = names(told, context, "en"), names(width, context, locale)
                pairs |= {str(theirs[at]).rstrip("."): str(ours[at]) for at in theirs}
        halves = locale.day_periods["format"][width]
        pairs |= {str(halves[half]).rstrip("."): half.upper() for half in ("am", "pm") if half in halves}
    return sorted(pairs.items(), key=lambda pair: -len(pair[0]))


def read_zone(said: str) -> str:
    """Return a zone as the conversion takes it: an IANA name, minutes ahead of UTC, or "?" where it is neither."""
    text = said.strip()
    if text.upper() in ("Z", "UTC", "GMT"):
        return "0"
    if found := OFFSET.match(text.upper().replace("\u2212", "-")):
        minutes = int(found[2]) * 60 + int(found[3] or 0)
        return str(-minutes if found[1] == "-" else minutes)
    names = {name.casefold(): name for name in time_zones()}
    return names.get(text.casefold(), NO_ZONE)
