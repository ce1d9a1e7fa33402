"""What learning and trying exports show on a terminal: some twenty lines a person can read. Words and widths only."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

SECTIONS = {"struck_at": "time", "student_id": "player"}
MOST_LINES_OF_REMARKS = 3


def learned(done: Any, width: int = 160) -> Iterator[str]:
    """Yield what was learnt of a make: the file's form, each column with how sure it is, the questions, what to do."""
    made = done.learned
    for refused in made.refused[:MOST_LINES_OF_REMARKS]:
        yield f"not looked at: {refused}"
    if made.proposal is None:
        yield f"no table of shots was found for '{made.name}': nothing was written"
        return
    proposal = made.proposal
    shape = {entry.key: entry.value for entry in proposal.entries if entry.section in ("file", "rows")}
    told = ", ".join(f"{key} {value!r}" for key, value in shape.items() if key not in ("nulls",))
    yield f"{made.name}: {made.shots:,} shots in {made.files} file{'s' if made.files > 1 else ''}; {told}"[:width]
    yield "  " + ", ".join(_in_short(entry) for entry in proposal.entries if _is_short(entry))
    for entry in proposal.entries:
        if entry.section != "columns" or _is_short(entry):
            continue
        unit = " ".join(str(entry.value[key]) for key in ("unit", "positive") if key in entry.value)
        yield f"  {entry.key.replace('_', ' '):<17} {_source(entry)[:28]:<29}{unit:<12} {entry.how:<9} {entry.why}"[
            :width
        ]
    for remark in proposal.remarks[:MOST_LINES_OF_REMARKS]:
        yield f"  noticed: {remark}"[:width]
    asked = proposal.to_ask
    for number, question in enumerate(asked, start=1):
        yield f"question {number}: {question.text}  [{question.key}={'|'.join(question.options[:4]) or '...'}]"
    yield from _ending(done, len(asked))


def _is_short(entry: Any) -> bool:
    return entry.section == "inbox" or entry.key in (*SECTIONS, "club")


def _in_short(entry: Any) -> str:
    return f"{SECTIONS.get(entry.key, entry.key)} from '{_source(entry)}' ({entry.how})"


def _source(entry: Any) -> str:
    source = entry.value.get("from", "none")
    return " + ".join(source) if isinstance(source, list) else source


def _ending(done: Any, asked: int) -> Iterator[str]:
    if done.fault is None:
        lost = "; ".join(f"{count} {reason}" if count else reason for reason, count in list(done.lost.items())[:3])
        yield f"tried on the samples: {done.loaded:,} of {done.read:,} rows would load" + (f" ({lost})" if lost else "")
    if asked:
        plural = "questions are" if asked > 1 else "question is"
        yield f"wrote {done.path}; {asked} {plural} left in it: answer there or by --answer, and run this again"
    elif done.fault is not None:
        yield f"wrote {done.path}; it cannot be used yet: {done.fault}"
    else:
        inbox = f"landing/inbox/{done.learned.name}/"
        yield f"wrote {done.path}; name it in bays.csv as export_profile, and put files into {inbox}"
