"""Times as exports write them, turned into UTC and the site's local time, in SQL.

In the hour a clock change repeats, a local time without offset is ambiguous and is taken as standard time (the second
pass); in the hour it skips, as summer time already begun. Exports with an offset or in UTC have no such hour.
Not here: which rows fall outside their night (convert_sql.py).
"""

from __future__ import annotations

from collections.abc import Sequence

from warehouse.landing.profile.file_shape import EPOCHS
from warehouse.schema.declaration import quoted

ZONE = r"([Zz]|[+-][0-9]{2}(:?[0-9]{2})?)"
ISO_FORM = r"^[0-9]{4}-[0-9]{2}-[0-9]{2}[Tt ][0-9]{2}:[0-9]{2}(:[0-9]{2}([.,][0-9]+)?)?" + ZONE + "?$"
ISO_OFFSET = r":[0-9]{2}([.,][0-9]+)?" + ZONE + "$"
ISO_BASIC, ISO_BASIC_FORM = "%Y%m%dT%H%M%S", "^[0-9]{8}T[0-9]{6}$"
ISO_NO_SECONDS = "([T ][0-9]{2}:[0-9]{2})(Z|[+-]|$)"
NO_ZONE = "?"
"""What stands for a zone that could not be read."""
NOT_TIMES = "('epoch', 'infinity', '-infinity')"
"""Words that the database would take for times, whatever the format."""


def parsed(said: str, kind: str, timestamp_format: str | None) -> tuple[str, str]:
    """Return SQL (naive, absolute) for a time: naive in the file's zone, or absolute in UTC; the other is null.

    Parameters
    ----------
    said
        SQL for the value.
    kind
        Its database type; text, or a parquet column's TIMESTAMP with or without time zone.
    timestamp_format
        strptime format; None: ISO 8601, extended form with or without offset, or basic form.
    """
    nothing = "null::timestamp"
    if kind == "TIMESTAMP WITH TIME ZONE":
        return nothing, f"timezone('UTC', {said})"
    if kind.startswith("TIMESTAMP"):
        return f"{said}::timestamp", nothing
    if kind != "VARCHAR":
        # A parquet column of another type is read as what it would say.
        said = f"({said})::varchar"
    if timestamp_format and ("%z" in timestamp_format or "%Z" in timestamp_format):
        dressed = f"regexp_replace({said}, '[Zz]$', '+00:00')" if "%z" in timestamp_format else said
        return nothing, f"timezone('UTC', try_strptime({_no_words(dressed)}, {quoted(timestamp_format)}))"
    if timestamp_format:
        return f"try_strptime({_no_words(said)}, {quoted(timestamp_format)})", nothing
    dotted = f"regexp_replace(upper(replace({said}, ',', '.')), {quoted(ISO_NO_SECONDS)}, '\\1:00\\2')"
    basic = f"case when regexp_matches({said}, {quoted(ISO_BASIC_FORM)}) then {said} end"
    fits, offset = (f"regexp_matches({said}, {quoted(form)})" for form in (ISO_FORM, ISO_OFFSET))
    return (
        f"case when not {fits} then try_strptime({basic}, {quoted(ISO_BASIC)}) "
        f"when not {offset} then try_cast({dotted} as timestamp) end",
        f"case when {fits} and {offset} then timezone('UTC', try_cast({dotted} as timestamptz)) end",
    )


def parsed_as_written(read: str, formats: Sequence[str | None], typed: bool) -> tuple[str, str]:
    """Return SQL (naive, absolute) for a time of a file read cell by cell: the first format that fits.

    Parameters
    ----------
    read
        SQL for the text.
    formats
        strptime formats, "epoch", "epoch_ms", or None for ISO 8601.
    typed
        Whether real dates are written as ISO 8601 in it, whatever the formats say.
    """
    naive, absolute = [], []
    for form in [*formats, *([None] if typed and None not in formats else [])]:
        if form in EPOCHS:
            micros = f"try_cast({read} as double) * {1_000_000 if form == 'epoch' else 1_000}"
            absolute.append(f"make_timestamp(try_cast(round({micros}) as bigint))")
            continue
        one, other = parsed(read, "VARCHAR", form)
        naive.append(one)
        absolute.append(other)
    return (
        f"coalesce({', '.join([*naive, 'null::timestamp'])})",
        f"coalesce({', '.join([*absolute, 'null::timestamp'])})",
    )


def by_zone(naive: str, absolute: str, zone: str) -> tuple[str, str]:
    """Return SQL (naive, absolute) of times whose zone stands in a column: an IANA name or minutes ahead of UTC."""
    minutes = f"try_cast({zone} as integer)"
    named = f"case when {minutes} is null and {zone} <> {quoted(NO_ZONE)} then {zone} else 'UTC' end"
    there = (
        f"case when {zone} = {quoted(NO_ZONE)} then null when {minutes} is not null "
        f"then {naive} - to_minutes({minutes}) else timezone('UTC', timezone({named}, {naive})) end"
    )
    return (
        f"case when {zone} is null then {naive} end",
        f"coalesce({absolute}, case when {zone} is not null then {there} end)",
    )


def _no_words(said: str) -> str:
    return f"case when lower({said}) not in {NOT_TIMES} then {said} end"


def local_and_utc(naive: str, absolute: str, zone: str, site_zone: str) -> tuple[str, str]:
    """Return SQL (local, UTC) from naive and absolute times, by the profile's zone ("site" or IANA) and the site's."""
    site = quoted(site_zone)
    if zone == "site":
        utc = f"coalesce({absolute}, timezone('UTC', timezone({site}, {naive})))"
        return f"coalesce({naive}, timezone({site}, timezone('UTC', {absolute})))", utc
    there = naive if zone == "UTC" else f"timezone('UTC', timezone({quoted(zone)}, {naive}))"
    utc = f"coalesce({absolute}, {there})"
    return f"timezone({site}, timezone('UTC', {utc}))", utc
