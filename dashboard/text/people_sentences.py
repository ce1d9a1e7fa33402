"""Sentences about cohorts and students: as sentences.py, which holds those about drills."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from dashboard.shell.number_format import Shown, clear, digits, missing
from dashboard.text import term_sentences, words
from dashboard.text.drill_sentences import Row, count, day, first_up, lower_first, moved, number_name, percent, subject


def beyond_count(row: Row) -> int:
    """Return how many students changed beyond their own noise, from the row's share."""
    return round((row["share_beyond_mdc"] or 0) * row["students"])


def cohort_change(row: Row, shown: Shown) -> str:
    """Say how a cohort changed (query cohort_change)."""
    name = f"{first_up(row['cohort'])}: {subject(shown, row['club_group'], row['measure'])}"
    if missing(row["change"]) or missing(row["ci_low"]):
        return f"{name} cannot be compared yet ({count(row['students'], 'student')} seen in both windows)."
    open_ = "" if clear(row["ci_low"], row["ci_high"]) else f", {words.NOT_CLEAR}"
    beyond = "" if missing(row["share_beyond_mdc"]) else f", {beyond_count(row)} beyond their own noise"
    return (
        f"{name} {moved(row['change'], shown, row['measure'])} (95% "
        f"{shown.interval(row['ci_low'], row['ci_high'])}){open_}{anyway(row, shown)}; "
        f"{count(row['students'], 'student')}{beyond}."
    )


def anyway(row: Row, shown: Shown) -> str:
    """Say what practice alone would have given, and what is beyond it; empty where that is not known."""
    if missing(row["expected_change"]):
        return ""
    text = f"; practice alone would have given {shown.change(row['expected_change'])}"
    if missing(row["change_beyond_expected"]) or missing(row["beyond_low"]):
        return text
    interval = shown.interval(row["beyond_low"], row["beyond_high"])
    return f"{text}, which leaves {shown.change(row['change_beyond_expected'])} (95% {interval})"


def spread_change(row: Row, shown: Shown) -> str:
    """Say whether a cohort's shots lie tighter (query cohort_change)."""
    if missing(row["spread_change"]) or missing(row["spread_low"]):
        return ""
    word = "tighter" if row["spread_change"] < 0 else "wider"
    ends = f"{digits(100 * row['spread_low'], 0)} to {digits(100 * row['spread_high'], 0)}"
    return (
        f"Spread within a session: {shown.value(row['spread_before'])} before, {shown.value(row['spread_after'])} "
        f"after, about {digits(abs(100 * row['spread_change']), 0)}% {word} (95% {ends}%)."
    )


def side_of(row: Row, better: str | None, of: str = "ci") -> str:
    """Return whether a cohort row moved the better way, the worse way, or cannot be told from no change.

    Parameters
    ----------
    of
        Whose interval: "ci", of the change as it looks; "beyond", of what is beyond practice alone.
    """
    if missing(row[f"{of}_low"]) or better is None:
        return "open"
    sign = -1 if better in ("down", "zero") else 1
    low, high = sorted((sign * row[f"{of}_low"], sign * row[f"{of}_high"]))
    return "better" if low > 0 else "worse" if high < 0 else "open"


def week(rows: Sequence[tuple[Row, str | None]]) -> str:
    """Say whether students are better than they were: each goal number of each cohort, with its better direction."""
    if not rows:
        return words.EMPTY["cohort_change"]
    own = [pair for pair in rows if pair[0]["cohort"] != words.ALL_STUDENTS]
    if not own:
        return ""
    sides = [side_of(row, better) for row, better in own]
    better, worse, still = (sides.count(side) for side in ("better", "worse", "open"))
    return (
        f"Of {count(len(own), 'comparison')} (a cohort and a goal number), {better} moved the better way with a 95% "
        f"interval clear of no change, {worse} the worse way, and {still} cannot be told from no change. "
        f"{week_beyond(own)}"
    )


def week_beyond(rows: Sequence[tuple[Row, str | None]]) -> str:
    """Say how many of the comparisons hold beyond practice alone."""
    known = [pair for pair in rows if not missing(pair[0]["beyond_low"])]
    if not known:
        return f"{first_up(words.NOT_TOLD)}."
    sides = [side_of(row, better, "beyond") for row, better in known]
    of = "" if len(known) == len(rows) else f" of the {len(known)} for which that is known"
    return (
        f"With what practice alone would have given taken off, {sides.count('better')}{of} moved the better way and "
        f"{sides.count('worse')} the worse way."
    )


def lead(rows: Sequence[tuple[Row, str | None]], shown: Callable[[str, str, str], Shown]) -> list[str]:
    """Say the week in review: all students' first goal number, who is missing, then the cohorts (query cohort_change).

    Parameters
    ----------
    rows
        Each goal number of each cohort, the most practised first, with its better direction.
    shown
        How a metric, of a club group and by a measure, is shown.
    """
    everybody = [row for row, _ in rows if row["cohort"] == words.ALL_STUDENTS][:1]
    told = [whole(row, shown(row["metric"], row["club_group"], row["measure"])) for row in everybody]
    told += [attrition(row) for row in everybody]
    return [text for text in (" ".join(told), week(rows)) if text]


def whole(row: Row, shown: Shown) -> str:
    """Say how one number of all students changed beyond practice alone (query cohort_change)."""
    name = subject(shown, row["club_group"], row["measure"])
    beyond = "" if missing(row["share_beyond_mdc"]) else (
        f"; {beyond_count(row)} of {count(row['students'], 'student')} changed by more than their own noise, better "
        f"or worse"
    )  # fmt: skip
    if missing(row["change_beyond_expected"]) or missing(row["beyond_low"]):
        interval = shown.interval(row["ci_low"], row["ci_high"])
        change = f"{moved(row['change'], shown, row['measure'])} (95% {interval}; {words.NOT_TOLD})"
    else:
        interval = shown.interval(row["beyond_low"], row["beyond_high"])
        change = f"{moved(row['change_beyond_expected'], shown, row['measure'])} beyond practice alone (95% {interval})"
        if not clear(row["beyond_low"], row["beyond_high"]):
            change += f", {words.NOT_BEYOND}"
    return f"{term_sentences.WHOLE[row.get('window_pair', 'term')]}{name} {change}{beyond}."


def attrition(row: Row) -> str:
    """Say who is missing from a comparison (query cohort_change)."""
    gone = row["students_only_before"]
    if not gone:
        return f"All {row['students']} students with this number in the first weeks have it in the later ones too."
    return (
        f"{count(gone, 'student')} of {gone + row['students']} with this number in the first weeks "
        f"{'has' if gone == 1 else 'have'} none in the later ones and {'is' if gone == 1 else 'are'} not in the change."
    )


def owner(row: Row) -> str:
    """Say how busy the academy was (query academy_week)."""
    return (
        f"In the seven days to {day(row['through_night'])}: {count(row['active'], 'active student')}, "
        f"{count(row['lessons'], 'lesson')}, {count(row['practices'], 'practice session')}, "
        f"{count(row['bay_hours'] or 0, 'bay hour')} from first to last ball; {row['joined']} joined in the last 28 "
        f"days, {row['not_seen']} not seen for 28 days."
    )


def meaning(described: str, shown: Shown) -> str:
    """Say what a number is (query metrics)."""
    return f"{first_up(shown.label)}: {lower_first(described)}"


def session(row: Row, shown: Shown) -> str:
    """Say what a session's first block was (query student_sessions)."""
    return (
        f"{day(row['night'])}: {shown.value(row['centre'])} "
        f"(95% {shown.levels(row['centre_low'], row['centre_high'])}), {count(row['shots'], 'shot')}"
        f"{', a drill followed' if row['drilled'] else ''}."
    )


def carry_sources(row: Row, shown: Shown) -> str:
    """Say where a change in carry came from (query student_carry)."""
    parts = "; ".join(
        f"{name} {shown.change(row[part])}" for part, name in words.CARRY_PARTS.items() if not missing(row[part])
    )
    return (
        f"{row['name']}, {day(row['night'])}, {words.CLUB_GROUPS[row['club_group']]}: carry changed by "
        f"{shown.change(row['carry_change'])}, of which {parts}."
    )


def place(row: Row, speed: Shown, angle: Shown, carry: Shown) -> str:
    """Say what a student's speed could carry (query student_place)."""
    text = (
        f"At {speed.value(row['club_speed'])} club speed and {angle.value(row['attack_angle'])} attack angle, the "
        f"measured launch carries about {carry.value(row['model_carry'])} by the model"
    )
    if missing(row["carry_available"]):
        return text + "."
    return text + f", the best reachable delivery about {carry.value(row['carry_available'])}."


def gain(row: Row) -> tuple[float, float, float]:
    """Return a forecast's expected gain and interval, turned so that plus is the better way (query "
    "student_forecast)."""
    sign = 1 if row["aim_direction"] == "raise" else -1
    low, high = sorted((sign * row["interval_low"], sign * row["interval_high"]))
    return sign * row["expected_effect"], low, high


def forecast(row: Row, shown: Shown) -> str:
    """Say what a drill should do for this student the next time (query student_forecast)."""
    expected, low, high = gain(row)
    way = {"raise": "up", "lower": "down", "toward": "nearer the target"}[row["aim_direction"]]
    done = "not done yet" if not row["episodes"] else f"done {count(row['episodes'], 'time')}"
    verdict = row["verdict"] or "no verdict yet"
    return (
        f"{row['name']}: expected {shown.size(expected) if expected > 0 else shown.change(expected)} {way} beyond free "
        f"practice (80% {shown.interval(low, high)} for the next time); {done}; evidence: {verdict}, "
        f"{row['certainty'] or 'no'} certainty."
    )


def next_drill(rows: Sequence[Row], shown: Shown) -> str:
    """Say which drill should do more than free practice for this student (query student_forecast, what gains only)."""
    if not rows:
        return words.NONE_EXPECTED
    sure = [row["name"] for row in rows if shown.surely_above(gain(row)[1])]
    if not sure:
        return "No drill is clearly better than free practice for this student: every 80% interval reaches zero."
    return f"Expected to do more than free practice for this student, 80% interval above zero: {', '.join(sure)}."


def pair(row: Row, shown: Shown) -> str:
    """Say a student's two values (query cohort_students)."""
    if missing(row["after"]):
        return f"{row['shown_as']}: {shown.value(row['before'])} before, none after."
    if missing(row["before"]):
        return f"{row['shown_as']}: none before, {shown.value(row['after'])} after."
    return f"{row['shown_as']}: {shown.value(row['before'])} before, {shown.value(row['after'])} after."


def cohort_line(row: Row, shown: Shown) -> dict[str, str | int]:
    """Return one line of a cohort's table, in display units (query cohort_change)."""
    return {
        "number": first_up(number_name(shown, row["club_group"])) + words.MEASURED_BY[row["measure"]],
        "before": shown.value(row["before"]),
        "after": shown.value(row["after"]),
        "change (95%)": f"{shown.change(row['change'])} ({shown.interval(row['ci_low'], row['ci_high'])})",
        "anyway": shown.change(row["expected_change"]),
        "beyond noise": percent(row["share_beyond_mdc"]),
        "students": row["students"],
    }


def response(row: Row, shown: Shown) -> str:
    """Say a student's own response to a drill (query drill_responses)."""
    return (
        f"{row['shown_as']}: {shown.change(row['response'])} beyond free practice "
        f"(95% {shown.interval(row['response_low'], row['response_high'])}), {count(row['episodes'], 'episode')}."
    )


def delivery(row: Row, angle: Shown) -> str:
    """Say where the shots of a stretch lie (query student_delivery)."""
    return (
        f"{first_up(row['stretch'])}, {day(row['from_date'])} to {day(row['to_date'])}: attack angle "
        f"{angle.value(row['attack_mean'])}, club path {angle.value(row['path_mean'])}, {count(row['shots'], 'shot')} "
        f"in {count(row['sessions'], 'session')}."
    )
