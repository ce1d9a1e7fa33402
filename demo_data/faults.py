"""Faults of rows and files: what the night must refuse, what comes late, what is exported a second time.

Every bad row has exactly one fault, so that what should be refused can be counted. Not here: what goes wrong on the
range itself (mess.py).
"""

from __future__ import annotations

import gzip
import json
from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np
import polars as pl

from demo_data.academy import BAYS, Scenario, stream
from demo_data.exports import Export
from demo_data.profiles import PROFILES, Profile

ROW_FAULTS = ("unparsable", "missing", "outside limits", "outside its night", "unknown club")
TOO_FAST = 140.0
NONSENSE = "#?"
SHARES = {"full": 0.02, "small": 0.04, "sample": 0.25}
COUNTS = {
    "full": {"late": 4, "half": 3, "torn": 2, "delimiter": 1, "empty": 1, "header": 1, "mark": 1, "stranger": 1},
    "small": {"late": 1, "half": 1, "torn": 1, "delimiter": 1, "empty": 1, "header": 1, "mark": 1, "stranger": 1},
    "sample": {"late": 1, "half": 1, "torn": 1, "delimiter": 0, "empty": 1, "header": 0, "mark": 1, "stranger": 1},
}


@dataclass
class Deliveries:
    """first: path -> content as it lands; later: (night after which it arrives, path, content); facts: one row a
    file and delivery for the truth."""

    first: dict[str, bytes] = field(default_factory=dict)
    later: list[tuple[str, str, bytes]] = field(default_factory=list)
    facts: list[dict] = field(default_factory=list)


def spoil_rows(shots: pl.DataFrame, scenario: Scenario, seed: int) -> pl.DataFrame:
    """Return the shots (sorted by bay and night) with faults in some files' rows and a `fault` column.

    A duplicate is the same row again, marked "duplicate"; the first of the two stays clean.
    """
    draws = stream(seed, "row faults")
    files = (shots.with_row_index("row").group_by("bay_id", "night", maintain_order=True)
             .agg("row", pl.col("profile").first()))  # fmt: skip
    chosen = np.flatnonzero(draws.random(files.height) < SHARES[scenario.name])
    fault, extra = np.full(shots.height, "", dtype=object), []
    for n in chosen:
        rows, profile = files["row"][int(n)].to_numpy(), files["profile"][int(n)]
        kinds = [k for k in ROW_FAULTS if k != "unparsable" or profile != "plain-si"]
        count = min(int(draws.integers(3, 9)), rows.size // 3)
        spots = draws.choice(rows, count + 2, replace=False)
        fault[spots[:count]] = draws.choice(kinds, count)
        extra += spots[count:].tolist()
    marked = shots.with_columns(pl.Series("fault", fault.astype(str)))
    doubles = marked[sorted(extra)].with_columns(pl.lit("duplicate").alias("fault"))
    fault_is = pl.col("fault")
    return pl.concat([marked, doubles]).sort("bay_id", "night", "struck_utc", maintain_order=True).with_columns(
        pl.when(fault_is == "outside limits").then(TOO_FAST)
        .when(fault_is == "missing").then(None).otherwise(pl.col("ball_speed")).alias("ball_speed"),
        pl.when(fault_is == "outside its night").then(pl.col("struck_utc") - pl.duration(days=1))
        .otherwise(pl.col("struck_utc")).alias("struck_utc"),
        pl.when(fault_is == "unknown club").then(-1).otherwise(pl.col("club")).alias("club"),
    )  # fmt: skip


def _lines(content: bytes, profile: Profile) -> list[bytes]:
    plain = gzip.decompress(content) if profile.suffix.endswith(".gz") else content
    return plain.splitlines(keepends=True)


def _packed(lines: list[bytes], profile: Profile) -> bytes:
    plain = b"".join(lines)
    return gzip.compress(plain, 6, mtime=0) if profile.suffix.endswith(".gz") else plain


def scribble(content: bytes, profile: Profile, rows: list[int]) -> bytes:
    """Return a text export with nonsense in place of the carry of the given rows (0 is the first shot)."""
    header = next(c.header for c in profile.columns if c.metric == "carry")
    lines = _lines(content, profile)
    if profile.file_format == "jsonl":
        for row in rows:
            shot = json.loads(lines[row]) | {header: NONSENSE}
            lines[row] = (json.dumps(shot, ensure_ascii=False, separators=(",", ":")) + "\n").encode()
        return _packed(lines, profile)
    mark, top = profile.delimiter.encode(), len(profile.preamble)
    place = lines[top].rstrip(b"\n").split(mark).index(header.encode(profile.encoding))
    for row in rows:
        cells = lines[top + 1 + row].rstrip(b"\n").split(mark)
        cells[place] = NONSENSE.encode()
        lines[top + 1 + row] = mark.join(cells) + b"\n"
    return _packed(lines, profile)


def facts_of(export: Export, fault: list[str], delivery: str, refused: str = "", arrives: str = "") -> dict:
    """Return the truth's row of one file: how many rows it holds and what should come of each."""
    counts = {kind: 0 if refused else fault.count(kind) for kind in (*ROW_FAULTS, "duplicate")}
    rows = 0 if refused else len(fault)
    named = {"rejected_" + kind.replace(" ", "_"): counts[kind] for kind in ROW_FAULTS}
    return {
        "path": export.path, "night": export.night, "bay_id": export.bay_id, "delivery": delivery,
        "arrives_after": arrives, "refused": refused, "rows_read": rows, "rows_loaded": rows - sum(counts.values()),
        **named, "rows_duplicate": counts["duplicate"],
    }  # fmt: skip


class FileFaults:
    """Chooses which files come late, half, torn or wrong, and delivers each file accordingly."""

    def __init__(self, exports: list[Export], scenario: Scenario, seed: int) -> None:
        self.draws, self.last = stream(seed, "file faults"), scenario.last_day
        self.fate: dict[str, str] = {}
        for fate, count in COUNTS[scenario.name].items():
            fit = [e.path for e in exports if self._fits(fate, e) and e.path not in self.fate]
            for path in self.draws.choice(fit, min(count, len(fit)), replace=False) if fit else ():
                self.fate[str(path)] = fate

    def _fits(self, fate: str, export: Export) -> bool:
        early = date.fromisoformat(export.night) <= self.last - timedelta(days=2)
        endings = {"torn": (".csv.gz",), "half": (".csv", ".tsv"), "delimiter": (".csv",), "header": (".csv",),
                   "mark": (".csv",), "empty": (".csv", ".tsv")}  # fmt: skip
        return early and export.rows >= 40 and export.path.endswith(endings.get(fate, ("",)))

    def _arrival(self, export: Export) -> str:
        arrives = date.fromisoformat(export.night) + timedelta(days=int(self.draws.integers(1, 4)))
        return min(self.last, arrives).isoformat()

    def deliver(self, export: Export, fault: list[str], profile: Profile, to: Deliveries) -> None:
        """Put the file where its fate wants it."""
        fate, whole = self.fate.get(export.path, ""), export.content
        if fate in ("late", "half", "torn"):
            arrives = self._arrival(export)
            to.later.append((arrives, export.path, whole))
            to.facts.append(facts_of(export, fault, "late" if fate == "late" else "corrected", "", arrives))
        if fate == "late":
            return
        refused = ""
        if fate == "half":
            keep = export.rows // 2
            whole, fault = _packed(_lines(whole, profile)[: keep + 1 + len(profile.preamble)], profile), fault[:keep]
        elif fate == "mark":
            whole = b"\xef\xbb\xbf" + whole
        elif fate:
            whole, refused = self._broken(fate, whole, profile)
        if fate == "stranger":
            export, refused = self._stranger(export, to, fault), "unknown bay"
        to.first[export.path] = whole
        to.facts.append(facts_of(export, fault, "first", refused))

    def _broken(self, fate: str, whole: bytes, profile: Profile) -> tuple[bytes, str]:
        if fate == "torn":
            return whole[: len(whole) * 2 // 3], "compression ends early"
        if fate == "empty":
            return b"", "empty"
        if fate == "delimiter":
            return whole.replace(profile.delimiter.encode(), b"|"), "a required column is absent"
        if fate == "header":
            header = next(c.header for c in profile.columns if c.metric == "launch_angle").encode(profile.encoding)
            return whole.replace(header, b"?", 1), "a required column is absent"
        return whole, ""

    @staticmethod
    def _stranger(export: Export, to: Deliveries, fault: list[str]) -> Export:
        """Deliver the file itself, and a copy of it in the name of a bay that does not exist."""
        to.first[export.path] = export.content
        to.facts.append(facts_of(export, fault, "first"))
        suffix = export.path.split(".", 1)[1]
        return Export(export.night, "99", f"{export.night}/99.{suffix}", export.content, export.rows)


def profile_of(bay_id: str) -> Profile:
    """Return the export profile of a bay."""
    return PROFILES[next(bay[2] for bay in BAYS if bay[0] == bay_id)]
