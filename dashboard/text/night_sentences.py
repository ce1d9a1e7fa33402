"""Sentences about bays, files, runs and publications: as sentences.py, which holds those about drills."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from dashboard.shell.number_format import Shown, digits, missing
from dashboard.text import words
from dashboard.text.drill_sentences import Row, count, day
from warehouse.settings.clock import age_in_words


def bays(rows: Sequence[Row]) -> str:
    """Say whether every bay reported on a night (rows of one night, query bay_nights)."""
    due = [row for row in rows if row["state"] != "no lessons"]
    reported = [row for row in due if row["state"] == "reported"]
    text = f"{len(reported)} of {count(len(due), 'bay')} that should have reported did."
    silent = [row["bay_id"] for row in due if row["state"] == "silent"]
    refused = [f"{row['bay_id']} ({row['reason'] or 'no reason given'})" for row in due if row["state"] == "refused"]
    late = [row["bay_id"] for row in reported if row["late"]]
    for word, names in (("Silent", silent), ("Refused", refused), ("Late", late)):
        if names:
            text += f" {word}: {', '.join(names)}."
    return text


def offset(row: Row, shown: Shown) -> str:
    """Say what a bay adds to a number (query bay_offsets)."""
    if missing(row["bay_offset"]) or missing(row["ci_low"]):
        return (
            f"Bay {row['bay_id']}: cannot be compared ({count(row['overlap_students'], 'student')} seen elsewhere too)."
        )
    drift = "; drifting" if row["drifting"] else ""
    return (
        f"Bay {row['bay_id']}: {shown.change(row['bay_offset'])} (95% "
        f"{shown.interval(row['ci_low'], row['ci_high'])}), "
        f"{count(row['overlap_students'], 'student')} seen elsewhere too{drift}."
    )


def clock(row: Row) -> str:
    """Say how a bay's clock runs (query bay_clocks)."""
    if missing(row["ahead_seconds"]):
        return f"Bay {row['bay_id']}: too few lessons to tell."
    way = "ahead of" if row["ahead_seconds"] > 0 else "behind"
    minutes = digits(abs(row["ahead_seconds"]) / 60, 1)
    return (
        f"Bay {row['bay_id']}: about {minutes} minutes {way} the lesson book, from {count(row['lessons'], 'lesson')}."
    )


def freshness(publication: Row) -> str:
    """Say through which night a page is current and when it was published (query publication).

    Published by day: sessions and blocks are newer than the evidence, and both are said.
    """
    if publication.get("evidence_at"):
        return (
            f"Sessions and blocks through {day(publication['through_night'])}, published "
            f"{publication['published_at']:%d %B %Y %H:%M} UTC; evidence, changes and bays through the night of "
            f"{day(publication['evidence_through'])}, renewed at night, in a home of millions of shots at least weekly."
        )
    return (
        f"Through the night of {day(publication['through_night'])}; published "
        f"{publication['published_at']:%d %B %Y %H:%M} "
        f"UTC; {count(publication['shots'], 'shot')}, {count(publication['sessions'], 'session')}, "
        f"{count(publication['episodes'], 'drill episode')}."
    )


def age(publication: Row, today: date) -> str:
    """Say how old the data are where they are older than a day (query publication)."""
    said = age_in_words(publication["through_night"], today)
    return f"{said} The last night with a file is {day(publication['through_night'])}." if said else ""


def failed_run(word: Row) -> str:
    """Say that the last run did not publish."""
    return (
        f"The last run did not publish ({word.get('message') or 'no reason given'}); finished "
        f"{word.get('finished_at') or 'at an unknown time'}. These are the numbers of the last good night."
    )


def nothing_yet(word: Row) -> str:
    """Say that the last run failed while nothing has ever been published."""
    return f"The last run did not publish: {word.get('message') or 'no reason given'}."


def not_loaded(row: Row) -> str:
    """Say which file was not loaded, and why (query bay_files)."""
    return f"{row['path']} {row['status']}: {row['reason'] or 'no reason given'}."


def offsets(rows: Sequence[Row], every: Sequence[str], shown: Shown) -> str:
    """Say what the bays add to a number, and which of `every` bay cannot be compared (query bay_offsets)."""
    known = sorted((row for row in rows if not missing(row["bay_offset"])), key=lambda row: row["bay_offset"])
    low, high = known[0], known[-1]
    text = (
        f"Bays add between {shown.change(low['bay_offset'])} (bay {low['bay_id']}) and "
        f"{shown.change(high['bay_offset'])} (bay {high['bay_id']}); that is taken off before anything is compared."
    )
    known_bays = {row["bay_id"] for row in known}
    other = [bay for bay in every if bay not in known_bays]
    if not other:
        return text
    return f"{text} Not known, for want of the number or of students seen elsewhere too: {', '.join(other)}."


def drifting(bays_drifting: Sequence[str], shown: Shown) -> str:
    """Say which bays drift in a number (query bay_offsets)."""
    if not bays_drifting:
        return f"No bay drifts in {shown.label}."
    one = len(bays_drifting) == 1
    return (
        f"{'Bay' if one else 'Bays'} {', '.join(bays_drifting)} {'drifts' if one else 'drift'} in {shown.label}: have "
        f"the "
        f"{'device' if one else 'devices'} checked, and enter the recalibration in events.csv."
    )


def bay_week(row: Row, shown: Shown) -> str:
    """Say what a bay added in a week (query bay_weeks)."""
    return (
        f"Week of {day(row['week'])}: {shown.change(row['weekly_offset'])} "
        f"(95% "
        f"{shown.interval(row['offset_low'], row['offset_high'])}){', drift signalled' if row['drifting'] else ''}."
    )


def bay_night(row: Row) -> str:
    """Say what arrived from a bay on a night (query bay_nights)."""
    if row["state"] == "reported":
        late = ", late" if row["late"] else ""
        return (
            f"Bay {row['bay_id']}: {count(row['shots'], 'shot')}{late}, {count(row['rejected'], 'row')} refused, "
            f"{row['unattributed']} of no person."
        )
    why = f" ({row['reason']})" if row["reason"] else ""
    return f"Bay {row['bay_id']}: {words.STATES[row['state']]}{why}, {count(row['lessons'], 'lesson')} booked."


def rows_found(rows: int, cut: bool, seconds: float, publication: Row) -> str:
    """Say what a reader's query gave."""
    more = "; there are more, so narrow it or take less" if cut else ""
    return f"{count(rows, 'row')}{more}, {seconds:.2f} s, through the night of {day(publication['through_night'])}."
