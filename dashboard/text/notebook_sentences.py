"""Sentences about the notebook's entries and the night's episodes; as sentences.py. Fixed text: words_notebook.py."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from dashboard.shell.outside_text import as_text as plain
from dashboard.shell.outside_text import neutralise_markdown
from dashboard.text import notebook as words
from dashboard.text.drill_sentences import Row, count, day, first_up

WHY_NOT = {
    "no consent": "the student has not agreed to be used in evidence",
    "end not known": "nobody logged when the aid came up, and the pauses between balls do not tell it",
    "event between": "a new club or a recalibrated device lies between the balls before and after",
}


def clock(moment: datetime | None) -> str:
    """Return a time of day, 14:05; words where there is none."""
    return "still open" if moment is None else f"{moment:%H:%M}"


def running(bay: str, student: str, drill: str | None, since: datetime | None) -> str:
    """Say who is in the bay and which drill runs since when."""
    if drill is None:
        return f"Bay {bay}, **{student}**: no drill runs."
    return f"Bay {bay}, **{student}**: **{drill}** runs since {clock(since)}."


def running_for(since: datetime, now: datetime) -> str:
    """Say for how long a drill has run."""
    minutes = int((now - since).total_seconds() // 60)
    return words.RUNNING_FOR.format(minutes=minutes) if minutes > 0 else words.JUST_BEGUN


def elsewhere(rows: Sequence[tuple[str, str, str, datetime]]) -> str:
    """Say which drills run in other bays: bay, student, drill, since."""
    return "Also running: " + "; ".join(
        f"bay {bay}, {student}, {drill} since {clock(since)}" for bay, student, drill, since in rows
    )


def drill_entry(row: Row, name: str) -> str:
    """Say what a drill's entry holds (table drill_entry)."""
    end = "still open" if row["ends_at"] is None else f"to {clock(row['ends_at'])}"
    chooser = f", chosen by: {words.CHOOSERS[row['chosen_by']]}" if row["chosen_by"] else ""
    after = ", entered afterwards" if row["placed_afterwards"] else ""
    return f"{clock(row['starts_at'])} {end}: **{name}**{chooser}{after}."


def overlaps(row: Row, name: str) -> str:
    """Say that a drill of this student runs at that time already (table drill_entry)."""
    end = "still open" if row["ends_at"] is None else f"to {clock(row['ends_at'])}"
    return (
        f"Not entered: {name} is logged for this student on {day(row['starts_at'])}, {clock(row['starts_at'])} {end}. "
        f"Correct that entry, or give other times."
    )


def entered_afterwards(name: str, starts_at: datetime, ends_at: datetime) -> str:
    """Say which drill was entered afterwards."""
    return f"Written: {name}, {day(starts_at)}, {clock(starts_at)} to {clock(ends_at)}."


def set_aside(row: Row) -> str:
    """Say what a marked stretch holds (table set_aside)."""
    if row["kind"] == "moved to bay":
        return f"{clock(row['starts_at'])}: moved to bay {row['moved_to_bay_id']}."
    end = "still open" if row["ends_at"] is None else f"to {clock(row['ends_at'])}"
    return f"{clock(row['starts_at'])} {end}: {words.MARK_NAMES[row['kind']]}."


def stop(row: Row, name: str) -> str:
    """Say what a stop's entry holds (table stop_entry)."""
    return f"{clock(row['at'])}: **{name}**. {words.STOPS[row['kind']]}."


def stopped(row: Row, name: str) -> str:
    """Say that a drill was stopped today, where another begins (table stop_entry)."""
    why = words.STOPS[row["kind"]].lower()
    return (
        f"Today at {clock(row['at'])}, {name} was {why}. Whether this student goes on today is for the coach on site "
        f"to decide; after pain, not without a doctor's word."
    )


def observation(row: Row) -> str:
    """Say what was seen (table observation)."""
    seen = f"{neutralise_markdown(row['measure'])}, {row['value']:g} {neutralise_markdown(row['unit'])}"
    return f"{clock(row['observed_at'])}: {seen}."


def entered(chain: Sequence[Row], told: Sequence[str]) -> str:
    """Say how an entry came to stand as it does: as first entered, then each correction."""
    steps = []
    for place, (row, text) in enumerate(zip(chain, told, strict=True)):
        what = "first entered" if place == 0 else "taken back" if row["withdrawn"] else "corrected"
        steps.append(f"{what} by {plain(row['entered_by'])} at {clock(row['entered_at'])} UTC: {text}")
    return "\n".join(f"- {step}" for step in steps)


def goal(words_said: str, number: str, target: str, by: date | None) -> str:
    """Say a goal: in the student's words as typed, with its number, target and day."""
    until = f" by {day(by)}" if by else ""
    return f"“{words_said}” The number that shows it: {number}, {target}{until}."


def hold(what: str, until: date) -> str:
    """Say a hold, without why."""
    return f"{what}: not before {day(until)}."


def held(names: Sequence[str]) -> str:
    """Say which drills are left out of the list."""
    return f"Not for this student for now: {', '.join(names)}."


def episode(row: Row, number: str | None, shots_needed: int) -> str:
    """Say whether a drill of the night counted, and why if not (query night_episodes).

    Parameters
    ----------
    number
        The aim's name; None where no bay measures it.
    shots_needed
        Usable balls that a block needs.
    """
    text = f"{clock(row['begins_at'])} {row['name'] or row['drill_id']}, {row['shown_as']}: "
    for_what = f"for {number}" if number else "for any number"
    balls = f"{count(row['pre_shots'] or 0, 'free ball')} before, {row['post_shots'] or 0} after"
    reason = row["excluded_reason"]
    pre, post = (row.get(f"{side}_balls") or row[f"{side}_shots"] or 0 for side in ("pre", "post"))
    if reason in WHY_NOT:
        text += f"does not count {for_what}: {WHY_NOT[reason]}."
    elif number and row["numbers"] and not row["aim_measured"]:
        text += f"does not count {for_what}: the bay did not measure it."
    elif (row["numbers"] and not row["counted"] and reason is None) or not row["numbers"]:
        text += f"does not count {for_what}: there are too few balls of one club before and after it."
    elif reason == "too few shots" and number and min(pre, post) >= shots_needed:
        text += (
            f"does not count {for_what}: {row['pre_shots']} of {count(pre, 'free ball')} before and "
            f"{row['post_shots']} of {post} after have it, {shots_needed} are needed on each side."
        )
    elif reason == "too few shots":
        text += (
            f"does not count {for_what}: {balls}, {shots_needed} are needed on each side. Next time let "
            f"{shots_needed} be hit freely before the aid goes down and after it comes up."
        )
    elif reason:
        text += f"does not count {for_what}: no number of its balls was measured."
    else:
        counts = f"{for_what} ({balls})" if number else f"for {count(row['counted'], 'number')}"
        text += f"counts {counts}."
    return text + _timing(row)


def _timing(row: Row) -> str:
    """Say where the balls tell of other moments than the log."""
    timing = row.get("timing")
    if timing == "moved to the balls":
        logged = f"{clock(row['logged_begins_at'])} to {clock(row['logged_ends_at'])}"
        return f" Logged {logged}; the pauses between balls say {clock(row['begins_at'])} to {clock(row['ends_at'])}."
    if timing == "end read from the balls":
        return f" Its end was not logged; the pauses between balls say {clock(row['ends_at'])}."
    if row["end_assumed"]:
        return " Its end was not logged: it was taken as the next drill's start or the lesson's end."
    return ""


def not_measured(bay: str, number: str, others: Sequence[str]) -> str:
    """Say before a drill begins that its bay does not measure what it aims at, and which bays do."""
    where = f"Bays here that do: {', '.join(others)}." if others else "No bay here measures it."
    return f"Bay {bay} does not measure {number}: here this drill will not count for its aim. {where}"


def counts(row: Row) -> bool:
    """Return whether a drill counts for its aim, or for any number where it has none (query night_episodes)."""
    return bool(row["counted"]) and row["excluded_reason"] is None and (row["aim_measured"] or not row["aim_metric"])


def counted(rows: Sequence[Row]) -> str:
    """Say how many of a night's drills counted (query night_episodes)."""
    good = sum(1 for row in rows if counts(row))
    return f"{good} of {count(len(rows), 'drill')} on the night of {day(rows[0]['night'])} counted for the drill's aim."


def session(row: Row, gaps: int) -> str:
    """Say what the last published session was (query session_latest)."""
    return (
        f"{day(row['night'])}, bay {row['bay_id']}, {clock(row['begins_at'])} to {clock(row['ends_at'])}: "
        f"{count(row['shots'], 'ball')}, {count(row['drills'], 'drill')} logged; "
        f"{count(gaps, 'gap')} of over a minute between balls."
    )


def gap(ball: int, begins: datetime, ends: datetime) -> str:
    """Say a gap between two balls."""
    return f"after ball {ball}: {begins:%H:%M:%S} to {ends:%H:%M:%S}"


def stretch(row: Row, number: str) -> str:
    """Say a stretch of a session: {stretch, shots, measured, begins_at, ends_at}."""
    return (
        f"{first_up(row['stretch'])}, {clock(row['begins_at'])} to {clock(row['ends_at'])}: "
        f"{count(row['shots'], 'ball')}, {row['measured']} with {number}."
    )
