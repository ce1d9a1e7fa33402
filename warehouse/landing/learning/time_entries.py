"""The profile's lines for when a shot was struck: column or columns, form, zone; and what of it is a question."""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Sequence

from warehouse.landing.learning import times
from warehouse.landing.learning.columns import Columns
from warehouse.landing.learning.entries import ASSUMED, KEPT, LIKELY, OPEN, SAID, SURE, Proposal, Question
from warehouse.landing.learning.home_facts import HomeFacts
from warehouse.landing.learning.outside_dates import date_in_json, date_outside, hints
from warehouse.landing.learning.tables import SampleTable

OPEN_HOURS = range(6, 24)
ZONE_LABEL = re.compile(r"(?i)zone|zeit|fuseau|huso|fuso|tidszon|pasmo|strefa|utc|gmt|tz")
ZONE_NAME = re.compile(r"^(?:UTC|GMT|Z|[A-Z][A-Za-z]+/[A-Za-z_/]+|(?:UTC|GMT)?[+-]\d{1,2}(?::?\d{2})?)$")


def propose_time(
    proposal: Proposal,
    columns: Columns,
    tables: Sequence[SampleTable],
    owners: Sequence[int],
    home: HomeFacts,
    kept: dict[str, object],
    now: dt.datetime,
) -> list[dt.datetime | None]:
    """Add the lines of `struck_at`; return each shot's moment as read, for the zone and for what cannot be.

    Parameters
    ----------
    tables, owners
        The samples' tables, and for each shot in `columns` the table it comes from.
    kept
        What the [file] part of the profile says already.
    now
        Local time.
    """
    source = columns.time
    if source is None:
        proposal.add(
            "columns",
            "struck_at",
            {"from": OPEN},
            "",
            "no column holds dates or times of day",
            Question(
                "columns.struck_at.from",
                "in which column does the time of the shot stand?",
                tuple(name for name in columns.table.header if name),
            ),
        )
        return []
    names = [columns.table.header[place] for place in source.places]
    forms, texts = (
        source.forms,
        [" ".join(cells) for cells in zip(*(columns.texts(p) for p in source.places), strict=True)],
    )
    if source.outside == "date":
        outside = date_in_json(columns, len(owners)) or date_outside(tables)
        if outside is None:
            proposal.add(
                "columns",
                "struck_at",
                {"from": [OPEN, *names]},
                "",
                source.why,
                Question(
                    "columns.struck_at.from",
                    "no date was found in the file's name, its sheets or the lines "
                    "above the table: where does it stand? Name the file by its date, or write a [fields] "
                    "entry and its name here",
                ),
            )
            return []
        names = ["day", *names]
        at = range(len(owners)) if outside.by_shot else owners
        texts = [f"{outside.texts[owner]} {text}" for owner, text in zip(at, texts, strict=True)]
        forms = [form for form in times.forms(texts) if form.dated and form.clocked]
        proposal.add(
            "fields", "day", outside.field, SURE, f"the table has the time of day only, the date stands {outside.where}"
        )
    elif source.outside == "clock":
        proposal.add(
            "columns",
            "struck_at",
            {"from": [*names, OPEN]},
            "",
            source.why,
            Question("columns.struck_at.from", "in which column does the time of day stand?"),
        )
        return []
    said = names[0] if len(names) == 1 else names
    shown = next((text for text in texts if text), "")
    _propose_form(proposal, forms, shown, source.language, hints(tables), kept, now)
    chosen = _chosen(forms, texts, kept, hints(tables), now)
    value: dict[str, object] = {"from": said}
    why = f"'{shown}'" + (f"; {source.why}" if source.why else "")
    zone = _zone_field(tables)
    if zone is not None and not (chosen and chosen.offset):
        proposal.add("fields", "zone", {"label": zone[0]}, SAID, f"the zone is said above the table: '{zone[1]}'")
        value["zone"] = "zone"
    proposal.add("columns", "struck_at", value, SURE, why)
    moments = list(chosen.moments) if chosen else []
    if zone is None:
        _propose_zone(proposal, columns, names, moments, bool(chosen and chosen.offset), tables, home, kept)
    return moments


def _chosen(
    forms: list[times.TimeForm], texts: list[str], kept: dict[str, object], hint: list[dt.date], now: dt.datetime
) -> times.TimeForm | None:
    wanted = kept.get("timestamp_format")
    if isinstance(wanted, str) and wanted != OPEN:
        return next((form for form in forms if form.format == wanted), None)
    possible, _ = times.likelier(forms, now, hint)
    return possible[0] if possible else None


def _propose_form(
    proposal: Proposal,
    forms: list[times.TimeForm],
    shown: str,
    language: str | None,
    hint: list[dt.date],
    kept: dict[str, object],
    now: dt.datetime,
) -> None:
    wanted = kept.get("timestamp_format")
    if wanted is not None and wanted not in (OPEN, *(form.format for form in forms[:1] if len(forms) == 1)):
        proposal.add("file", "timestamp_format", wanted, KEPT, "as it stood here")
        return
    possible, why = times.likelier(forms, now, hint)
    if not possible:
        proposal.add(
            "file",
            "timestamp_format",
            OPEN,
            "",
            f"'{shown}' is written in no form that is known",
            Question(
                "file.timestamp_format", f"how is '{shown}' written? As a strptime format, such as %d.%m.%Y %H:%M:%S"
            ),
        )
        return
    if len(possible) > 1:
        read = {form.format: form.known[0].strftime("%-d %B %Y") for form in possible}
        proposal.add(
            "file",
            "timestamp_format",
            OPEN,
            "",
            f"'{shown}' fits {len(possible)} forms",
            Question(
                "file.timestamp_format",
                f"what day is '{shown}': " + " or ".join(f"{day} ({form})" for form, day in read.items()) + "?",
                tuple(read),
            ),
        )
        return
    if possible[0].format != times.ISO:
        how = SURE if len(forms) == 1 else LIKELY
        proposal.add(
            "file", "timestamp_format", possible[0].format, how, f"reads '{shown}'" + (f"; {why}" if why else "")
        )
    if language:
        proposal.add("file", "language", language, SURE, "months are named in it")


def _propose_zone(
    proposal: Proposal,
    columns: Columns,
    names: Sequence[str],
    moments: list[dt.datetime | None],
    offset: bool,
    tables: Sequence[SampleTable],
    home: HomeFacts,
    kept: dict[str, object],
) -> None:
    wanted = kept.get("timezone")
    if isinstance(wanted, str) and wanted != OPEN:
        proposal.add("file", "timezone", wanted, KEPT, "as it stood here")
        return
    if offset:
        proposal.add("file", "timezone", "site", SAID, "each time says its own offset")
        return
    headers = " ".join(name for name in names if isinstance(name, str))
    if re.search(r"\b(UTC|GMT|Zulu|zulu|utc|gmt)\b", headers.replace("_", " ")):
        proposal.add("file", "timezone", "UTC", SAID, f"the header says so: '{headers}'")
        return
    above = " ".join(text for table in tables[:3] for label, value, _ in table.labels for text in (label, value))
    if re.search(r"\b(UTC|GMT)\b(?![+-]\d)", above):
        proposal.add("file", "timezone", "UTC", LIKELY, "a line above the table names UTC")
        return
    known = [moment for moment in moments if moment is not None]
    if (by_lessons := home.zone_by_lessons(known)) is not None:
        zone, why = by_lessons
        proposal.add("file", "timezone", zone, SURE, why)
        return
    hours = Counter(moment.hour for moment in known)
    strange = sum(count for hour, count in hours.items() if hour not in OPEN_HOURS)
    if known and strange > 0.05 * len(known):
        span = f"{min(known):%H:%M} to {max(known):%H:%M}"
        text = (
            f"{strange} of {len(known)} shots lie between midnight and six by its clock ({span}): which zone does "
            "the clock keep? site: the site's own time"
        )
        proposal.add("file", "timezone", OPEN, "", "no zone is said", Question("file.timezone", text, ("site", "UTC")))
        return
    proposal.add(
        "file",
        "timezone",
        "site",
        ASSUMED,
        "no zone is said, and the hours are a day's at the site; "
        'an IANA name such as "UTC" if the bay\'s clock keeps another',
    )


def _zone_field(tables: Sequence[SampleTable]) -> tuple[str, str] | None:
    """Return (label, value) where every table says its zone above it."""
    for label, value, _ in tables[0].labels:
        said = [[text for one, text, _ in table.labels if one == label] for table in tables]
        everywhere = all(any(ZONE_NAME.match(text) for text in texts) for texts in said)
        if everywhere and ZONE_NAME.match(value) and ZONE_LABEL.search(label):
            return label, value
    return None
