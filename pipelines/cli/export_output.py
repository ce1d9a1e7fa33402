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
    yield from (f"  wrong: {said}" for said in done.wrong)
    if asked:
        plural = "questions are" if asked > 1 else "question is"
        yield f"wrote {done.path}; {asked} {plural} left in it: answer there or by --answer, and run this again"
    elif done.fault is not None:
        yield f"wrote {done.path}; it cannot be used yet: {done.fault}"
    elif done.outcome:
        yield f"wrote {done.path}; most rows would not load or are read wrongly: see above, and correct it"
    else:
        inbox = f"landing/inbox/{done.learned.name}/"
        yield f"wrote {done.path}; name it in bays.csv as export_profile, and put files into {inbox}"


def summary(tried: Any) -> Iterator[str]:
    """Yield what a profile makes of files: rows, spans, names nobody knows, what cannot be."""
    done = tried.summary
    yield f"{tried.trial.profile.stem} on {len(tried.trial.files)} files, {tried.where}"
    yield f"{done.read:,} rows read = {done.loaded:,} would load + {sum(done.lost.values()):,} lost + " + (
        f"{done.duplicates:,} exact duplicates"
    )
    if done.times:
        yield f"times: {done.times}"
    if done.spans:
        yield f"  {'':<17}{'least':>10}{'median':>10}{'greatest':>10}"
    for span in done.spans:
        numbers = "".join(f"{value:>10.1f}" for value in (span.least, span.median, span.greatest))
        yield f"  {span.name:<17}{numbers} {span.unit:<5}{span.rows:>9,} rows"
    for said in done.plausible:
        yield f"  {said}"
    for reason, count in done.lost.most_common(8):
        yield f"lost: {count:,} rows, {reason}"
    for name in done.unknown:
        near = f"; nearest: {name.nearest}" if name.nearest else ""
        yield f"unknown {name.kind}: '{name.name}', {name.count:,} rows{near}"
    for said in (*(f"refused: {one}" for one in done.refused), *(f"wrong: {one}" for one in done.wrong)):
        yield said
    for said in done.warnings[:MOST_LINES_OF_REMARKS]:
        yield f"warning: {said}"
