"""Whether a file that could be read may be loaded: not where nothing would load, too much would be lost, markedly less
than before would stand, or its shots are another bay's.

Judged on the converted rows, before anything is replaced. Not here: reading them (bulk_read.py), shots that stand in
several files (merge.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import duckdb

from warehouse.landing.conversion.convert_sql import OTHER_NIGHT, Reading, faults
from warehouse.landing.exports import bulk_load, copies
from warehouse.landing.exports.bulk_load import Counts
from warehouse.landing.exports.copies import Copy
from warehouse.landing.exports.decisions import TAKE, WITHDRAW, Decisions
from warehouse.landing.exports.inspect import Inspected
from warehouse.landing.path_safety import in_words
from warehouse.privacy.masking import people_beside
from warehouse.privacy.values import shown_value
from warehouse.settings.settings import Limits

SHOWN_VALUE = 40
TAKE_IT = "`academy take-export {path}` takes what can be read of it all the same"
SMALLER = (
    "it would load {now:,} rows where the file before it loaded {before:,}, which stay: correct it, or if it is right, "
    "run `academy take-export {path}`"
)
NO_ROWS = "it holds a header and no rows: export the night again, or remove the file if nobody hit a ball there"


@dataclass
class Losses:
    """What a file loses: rows by reason, and one of the commonest in words."""

    by_reason: dict[str, int] = field(default_factory=dict)
    example: str = ""
    hint: str = ""

    @property
    def commonest(self) -> str:
        """Return the reason that most rows have."""
        return max(self.by_reason, key=lambda reason: self.by_reason[reason])

    def __str__(self) -> str:
        """Return the counts by reason, the commonest first."""
        ordered = sorted(self.by_reason.items(), key=lambda item: -item[1])
        return ", ".join(f"{count:,} {reason}" for reason, count in ordered)


@dataclass
class Judgement:
    """What is to become of one file.

    Attributes
    ----------
    refused
        Why it is refused whole; None if it is loaded.
    counts
        With rows that could load set aside, where it is refused.
    losses
        Rows lost.
    copies
        Files of other bays that hold the same shots, and which of the two loses them.
    beside
        The path and content because of which it is refused: gone with that, the file is judged anew.
    warnings
        In words.
    """

    counts: Counts
    losses: Losses
    refused: str | None = None
    copies: list[Copy] = field(default_factory=list)
    beside: str = ""
    warnings: list[str] = field(default_factory=list)


def judge(
    con: duckdb.DuckDBPyConnection,
    reading: Reading,
    batch: Sequence[Inspected],
    counts: Sequence[Counts],
    limits: Limits,
    book: Decisions,
) -> list[Judgement]:
    """Judge a batch of converted files (`bulk_read.convert` has filled its temporary tables)."""
    lost = _losses(con, reading, batch, counts)
    before = _before(con, batch)
    same = copies.find(con, batch)
    return [
        _judge_one(file, counts[at], lost.get(at, Losses()), before.get(file.file.path), same.get(at, []), limits, book)
        for at, file in enumerate(batch)
    ]


def _judge_one(
    file: Inspected,
    counts: Counts,
    losses: Losses,
    before: tuple[int, str] | None,
    same: list[Copy],
    limits: Limits,
    book: Decisions,
) -> Judgement:
    path = file.file.path
    decided = book.of(path, file.content_hash)
    word = decided.decision if decided else ""
    done = Judgement(counts, losses, copies=same)
    lost_to = [copy for copy in same if not copy.wins]
    copied = max((copy.lost for copy in lost_to), default=0)
    rows = counts.read - counts.duplicate
    if decided and word == WITHDRAW:
        why = f": {decided.note}" if decided.note else ""
        done.refused = f"taken back on {decided.decided_at[:10]}{why}; `academy take-export {path}` loads it again"
    elif counts.read == 0:
        done.refused = NO_ROWS
    elif counts.loaded == 0:
        done.refused = f"none of its {rows:,} rows would load: {_said(losses)}"
    elif word != TAKE and copied and counts.rejected + copied > limits.lost_share * rows:
        done.refused = _copied_in_words(file, lost_to, rows)
        done.beside = f"{lost_to[0].path} {lost_to[0].content_hash}"
    elif word != TAKE and counts.rejected > limits.lost_share * rows:
        done.refused = (
            f"{counts.rejected:,} of its {rows:,} rows would be lost: {_said(losses)}; {TAKE_IT.format(path=path)}"
        )
    elif word != TAKE and before and before[1] != file.content_hash and (
        counts.loaded < limits.smaller_delivery_share * before[0]
    ):  # fmt: skip
        done.refused = SMALLER.format(now=counts.loaded, before=before[0], path=path)
        done.refused += f" ({losses})" if losses.by_reason else ""
        done.beside = f"{path} {before[1]}"
    if done.refused:
        done.counts = replace(counts, loaded=0, set_aside=counts.loaded)
    return done


def _said(losses: Losses) -> str:
    """Return what a file loses, the commonest reason with its example, and what it looks like."""
    if not losses.by_reason:
        return "each stands in it twice"
    return f"{losses}, such as {losses.example}" + (f"; {losses.hint}" if losses.hint else "")


def _copied_in_words(file: Inspected, lost_to: list[Copy], rows: int) -> str:
    other = lost_to[0]
    return (
        f"{other.lost:,} of its {rows:,} rows are the shots of shots/{other.path}, bay {other.bay_id}, where they are "
        f"counted: it looks like that bay's file under the name of bay {file.file.bay_id}; put this bay's own export "
        f"there, or if it is right, take the other back by `academy withdraw-export {other.path}`"
    )


def _before(con: duckdb.DuckDBPyConnection, batch: Sequence[Inspected]) -> dict[str, tuple[int, str]]:
    """Return for each path in force (rows that stand from it, its content); of trimmed nights as they were counted."""
    rows = con.execute(
        "with kept as (select path, count(*) as rows from (select path, night from raw.shot union all "
        "select path, night from raw.repeated_shot) where list_contains($1, path) and night between $2 and $3 "
        "group by path) select e.path, coalesce(kept.rows, e.rows_loaded), e.content_hash from raw.export_file as e "
        "left join kept using (path) where e.in_force and list_contains($1, e.path)",
        [
            [file.file.path for file in batch],
            min(file.file.night for file in batch),
            max(file.file.night for file in batch),
        ],
    ).fetchall()
    return {path: (rows, content) for path, rows, content in rows}


def _losses(
    con: duckdb.DuckDBPyConnection, reading: Reading, batch: Sequence[Inspected], counts: Sequence[Counts]
) -> dict[int, Losses]:
    """Return what each file that loses rows loses, by its place in the batch."""
    if not any(count.rejected for count in counts):
        return {}
    found = faults(reading)
    first: dict[int, tuple[int, int, str]] = {}
    lost: dict[int, Losses] = {}
    for file_id, code, rows, line in con.execute(
        "select file_id, code, count(*), min(line) from temp.landing_row where code > 0 and not duplicate group by all "
        "order by all"
    ).fetchall():
        reason = found[code - 1].reason
        by_reason = lost.setdefault(file_id, Losses()).by_reason
        by_reason[reason] = by_reason.get(reason, 0) + rows
        if file_id not in first or rows > first[file_id][0]:
            first[file_id] = (rows, line, reason)
    examples = con.execute(
        "select f.file_id, line, column_name, value, detail from ("
        f"{bulk_load.rejected(con, reading)}) join temp.landing_file as f using (path) "
        "join (select unnest($1) as file_id, unnest($2) as line) as w using (file_id, line)",
        [list(first), [line for _, line, _ in first.values()]],
    ).fetchall()
    names = people_beside(con).names
    for file_id, line, column, said_there, detail in examples:
        # A whole line may name a person: of a fault in no single column only the line's number is told.
        value = shown_value(said_there, column, names)
        said = f", {column} '{in_words(value, SHOWN_VALUE)}'" if column and value is not None else ""
        said += f", {column}" if column and value is None else ""
        lost[file_id].example = f"line {line}{said}" + (f" ({detail})" if detail else "")
    _name_other_nights(con, lost, [at for at, losses in lost.items() if losses.commonest == OTHER_NIGHT], batch)
    return lost


def _name_other_nights(
    con: duckdb.DuckDBPyConnection, lost: dict[int, Losses], of_files: list[int], batch: Sequence[Inspected]
) -> None:
    """Say of files whose rows are of other nights which nights those are, and what the file looks like."""
    if not of_files:
        return
    for file_id, nights, first, last in con.execute(
        "select file_id, count(distinct struck_at_local::date), min(struck_at_local::date), "
        "max(struck_at_local::date) from temp.landing_row join temp.landing_file using (file_id) "
        "where list_contains($1, file_id) and struck_at_local::date <> night group by file_id",
        [of_files],
    ).fetchall():
        name = batch[file_id].file.path.rsplit("/", 1)[-1]
        lost[file_id].hint = (
            f"they are of {first}: if it is that night's file, move it to shots/{first}/{name}"
            if nights == 1
            else f"they are of {nights:,} other nights, {first} to {last}: put an export of many nights into "
            "landing/inbox/<profile>/, which sorts it by night"
        )
