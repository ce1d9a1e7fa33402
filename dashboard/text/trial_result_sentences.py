"""Sentences about what a finished trial found, from the rows of result and flow; as trial_sentences.py."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from itertools import groupby

from dashboard.shell.number_format import Shown, clear, digits, missing
from dashboard.text import trials as words_here
from dashboard.text import words
from dashboard.text.drill_sentences import Row, count, day, first_up, percent, verdict_words
from dashboard.text.notebook_sentences import plain
from dashboard.trials.listing import arm_name
from warehouse.trials.judgement import Verdict

Names = Mapping[str, str]
STEP_HEADS = {
    "assessed": "Asked",
    "not eligible": "Not of those it is for",
    "not drawn": "Not drawn",
    "drawn": "Drawn",
    "done": "Done",
    "followed": "Measured",
    "analysed": "Counted in the result",
}


def found(row: Row, names: Names, shown: Shown, better: float) -> str:
    """Say what one drawn group did beyond the other (trial_estimate.RESULT)."""
    one, other = arm_name(row["arm"], names), names.get(row["reference"], row["reference"])
    if missing(row["effect"]) or missing(row["ci_low"]):
        return f"{first_up(one)} against {other}: no difference can be given ({row['reason'] or 'too few measured'})."
    way = "better" if row["effect"] * better > 0 else "worse"
    told = (
        f"**{first_up(one)}** did {shown.size(row['effect'])} {way} than {other} ({shown.change(row['effect'])}; 95% "
        f"{shown.interval(row['ci_low'], row['ci_high'])}), {row['students']} and {row['reference_students']} students "
        f"measured"
    )
    if clear(row["ci_low"], row["ci_high"]):
        return f"{told}."
    return f"Which of the two is better is still open: {told}, and the interval reaches to both sides of no difference."


def verdict(judged: Verdict, shown: Shown) -> str:
    """Say a verdict and how far it can be trusted, each with its reason."""
    said = words_here.SAME.get(judged.verdict or "") or verdict_words(judged.verdict, shown)
    return (
        f"Verdict of this trial: **{said}** ({judged.reason}); {judged.certainty} certainty "
        f"({judged.certainty_reason})."
    )


def luck(row: Row) -> str:
    """Say what the randomisation test says (trial_estimate.RESULT)."""
    if missing(row["randomisation_p"]):
        return ""
    often = by_luck(row["randomisation_p"])
    return f"Lots alone would show as large a difference in {often} of 100 trials in which no drill does anything."


def by_luck(share: float) -> str:
    """Return of how many trials in a hundred."""
    return "fewer than 1" if share < 0.01 else f"about {digits(100 * share, 0)}"


def short(row: Row, shown: Shown) -> str:
    """Return a difference as it stands beside its mark."""
    return f"{shown.change(row['effect'])} ({shown.interval(row['ci_low'], row['ci_high'])})"


def line(row: Row, names: Names, shown: Shown) -> dict[str, str | int]:
    """Return one line of the result's table, in display units (trial_estimate.RESULT)."""
    return {
        "group": first_up(arm_name(row["arm"], names)),
        "against": names.get(row["reference"], row["reference"]),
        "counted": words_here.ANALYSES[row["analysis"]],
        "difference (95%)": short(row, shown),
        "unadjusted": shown.change(row["plain_difference"]),
        "students": f"{row['students']} and {row['reference_students']}",
        "missing": row["missing"],
        "by luck": "" if missing(row["randomisation_p"]) else f"{by_luck(row['randomisation_p'])} of 100",
    }


def evidence(row: Row, shown: Shown) -> str:
    """Say what all the academy's episodes, drawn and chosen, say of a drill (query drill_comparison)."""
    return (
        f"{row['name']}, {words.HORIZONS[row['horizon']]}, all episodes: {verdict_words(row['verdict'], shown)}, "
        f"{row['certainty'] or 'no'} certainty; {percent(row['drawn_share'])} of {count(row['episodes'], 'episode')} "
        f"drawn by lot."
    )


def flow(rows: Sequence[Row], names: Names) -> list[tuple[str, list[str]]]:
    """Say what became of everybody, step by step in the order of the flow (trial_flow.FLOW): heading, lines."""
    told = []
    for step, here in groupby(rows, key=lambda row: row["step"]):
        lines = [flow_line(row, names) for row in here]
        told.append((STEP_HEADS[step], lines))
    return told


def flow_line(row: Row, names: Names) -> str:
    """Say one line of the flow."""
    number = count(row["students"], "student")
    group = first_up(arm_name(row["arm"], names)) if row["arm"] else ""
    what = plain(row["what"]).rstrip(".") if row["step"] == "not drawn" and row["what"] else row["what"]
    parts = [part for part in (group, what) if part]
    return f"{', '.join(parts)}: {number}" if parts else number


def flow_table(rows: Sequence[Row], names: Names) -> list[dict[str, str]]:
    """Return the flow as lines of step, what, everybody, and a column for each group (trial_flow.FLOW)."""
    arms = list(dict.fromkeys(row["arm"] for row in rows if row["arm"]))
    lines: dict[tuple[str, str], dict[str, str]] = {}
    for row in rows:
        what = (row["what"] or "").rstrip(".")
        head = STEP_HEADS[row["step"]]
        line = lines.setdefault(
            (row["step"], what),
            {"step": head, "what": what, "everybody": ""} | {first_up(arm_name(arm, names)): "" for arm in arms},
        )
        line[first_up(arm_name(row["arm"], names)) if row["arm"] else "everybody"] = str(row["students"])
    return list(lines.values())


def reasons(rows: Sequence[Row]) -> list[str]:
    """Say why those not drawn were not (trial_flow.FLOW)."""
    return [flow_line(row, {}) for row in rows if row["step"] == "not drawn" and row["what"]]


def frozen(through: date, content_hash: str, changed: int) -> str:
    """Say from what the result is read, and what changed since without moving it."""
    since = (
        f" Since then {count(changed, 'student')} would be read otherwise (withdrawn, corrected or measured later); "
        "the result stays."
        if changed
        else ""
    )
    return f"Frozen as of {day(through)}, hash {content_hash[:16]}.{since}"
