"""From sample exports to a proposed profile: tables found, columns read, lines written, questions asked.

What stands in the profile already is kept, its "?" aside, so that answers and corrections survive. Not here: how it is
shown (the command's output), nor the trial of the result (trial.py).
"""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np

from warehouse.landing.learning import (
    club_entries,
    layout_entries,
    number_entries,
    people_entries,
    physics,
    readings,
    search,
    time_entries,
)
from warehouse.landing.learning.columns import Columns, read_columns
from warehouse.landing.learning.entries import KEPT, OPEN, Proposal
from warehouse.landing.learning.expected_values import lofts_of
from warehouse.landing.learning.grids import Grid, NoTableError, read_grids
from warehouse.landing.learning.home_facts import HomeFacts, read_home
from warehouse.landing.learning.readings import Evidence, NumericColumn
from warehouse.landing.learning.tables import SampleTable, find_table

MOST_SHOTS = 100
"""Shots by which columns are told apart, spread over the samples: more only cost time."""
LEAST_NUMBERS = 1
SEA_LEVEL, SCALE_HEIGHT = 1.2, 8500.0
"""Density of the air, kg/m^3, and its e-folding height, m: round values, enough for telling units apart."""


@dataclass
class Learned:
    """What came of the samples.

    Attributes
    ----------
    proposal
        The profile, line by line; None where no table was found.
    refused
        Files that were not looked at, and why.
    shots, files
        How many were.
    """

    name: str
    proposal: Proposal | None = None
    columns: Columns | None = None
    refused: list[str] = field(default_factory=list)
    shots: int = 0
    files: int = 0
    toml: str = ""

    @property
    def outcome(self) -> int:
        """Return the exit code: 0 known, 3 questions left, 2 no table."""
        return 2 if self.proposal is None else 3 if self.proposal.to_ask else 0


def learn(
    name: str,
    files: Sequence[Path],
    *,
    home: Path | None = None,
    kept: Mapping[str, Any] | None = None,
    now: dt.datetime | None = None,
) -> Learned:
    """Return the profile that sample exports of one make propose.

    Parameters
    ----------
    name
        The make's name: the profile's, and bays.csv's export_profile.
    files
        Samples; a folder stands for the files in it.
    home
        An academy's home whose bays, people and lessons the samples are held against.
    kept
        The profile as it stands, with answers: whatever is no "?" is kept.
    now
        Local time, for dates that cannot be.
    """
    done, facts = Learned(name), read_home(home)
    tables = _tables(files, done)
    if not tables:
        return done
    merged, owners = _merged(tables)
    columns = read_columns(merged)
    where = {row: owners[n] for n, row in enumerate(merged.rows)}
    shots = [where.get(row, 0) for row in columns.rows]
    done.columns, done.shots, done.files = columns, len(columns.rows), len({table.grid.path for table in tables})
    if len(columns.numeric) < LEAST_NUMBERS:
        done.refused.append(
            "the table holds no numbers of shots: its columns are " + ", ".join(columns.table.header[:12])
        )
        return done
    done.proposal = _propose(name, columns, tables, shots, facts, kept or {}, now or dt.datetime.now())
    sources = f"{done.shots:,} shots in {done.files} file{'s' if done.files > 1 else ''}"
    done.toml = done.proposal.toml(sources)
    return done


def _tables(files: Sequence[Path], done: Learned) -> list[SampleTable]:
    """Return the tables of the make: those whose header most rows share."""
    found: dict[tuple[str, ...], list[SampleTable]] = {}
    for path in (one for file in files for one in (sorted(file.rglob("*")) if file.is_dir() else [file])):
        if path.is_dir():
            continue
        try:
            grids = read_grids(path)
        except NoTableError as fault:
            done.refused.append(str(fault))
            continue
        said: list[str] = []
        before = sum(map(len, found.values()))
        for grid in grids:
            try:
                table = find_table(grid)
            except NoTableError as fault:
                said.append(str(fault))
                continue
            found.setdefault(tuple(name.strip() for name in table.header), []).append(table)
        if sum(map(len, found.values())) == before:
            done.refused += said[:2]
    if not found:
        return []
    best = max(found, key=lambda header: sum(len(table.rows) for table in found[header]))
    for header, others in found.items():
        if header != best and set(header) != set(best):
            done.refused.append(
                f"{others[0].grid.path.name}{f' ({others[0].grid.sheet})' if others[0].grid.sheet else ''}: "
                "its columns are others; it is not looked at here"
            )
    same = [table for header, tables in found.items() if set(header) == set(best) for table in tables]
    return sorted(same, key=lambda table: tuple(name.strip() for name in table.header) != best)


def _merged(tables: Sequence[SampleTable]) -> tuple[SampleTable, list[int]]:
    """Return all tables as one, and for each of its rows the table it comes from."""
    first = tables[0]
    rows, owners = [list(first.header)], []
    outside: dict[str, list[str]] = {}
    for number, table in enumerate(tables):
        order = [table.header.index(name) if name in table.header else -1 for name in first.header]
        same = list(table.header) == list(first.header)
        for at in table.rows:
            cells = table.grid.rows[at]
            rows.append(cells if same else [cells[place] if 0 <= place < len(cells) else "" for place in order])
            owners.append(number)
        for path, values in table.grid.outside.items():
            outside.setdefault(path, []).extend(values)
    grid = Grid(
        first.grid.path,
        first.grid.format,
        rows,
        list(range(1, len(rows) + 1)),
        first.grid.sheet,
        first.grid.said,
        outside,
    )
    first.grid.outside = outside
    units = [
        next((t.units[p] for t in tables if p < len(t.units) and t.units[p]), None) for p in range(len(first.header))
    ]
    return SampleTable(grid, first.header, 0, 0, units, list(range(1, len(rows)))), owners


def _propose(
    name: str,
    columns: Columns,
    tables: list[SampleTable],
    owners: list[int],
    facts: HomeFacts,
    kept: Mapping[str, Any],
    now: dt.datetime,
) -> Proposal:
    proposal = Proposal(name)
    stood = {section: kept.get(section, {}) for section in ("file", "rows", "fields", "columns", "inbox")}
    club_map = stood["columns"].get("club", {}).get("map") or {}
    layout_entries.propose_file(proposal, columns, tables, stood["file"])
    time_entries.propose_time(proposal, columns, tables, owners, facts, dict(stood["file"]), now)
    people_entries.propose_player(proposal, columns, tables, facts)
    club_entries.propose_club(proposal, columns, tables, club_map)
    names = club_entries.club_names(columns)
    evidence = _evidence(columns, club_entries.canonical_clubs(names, club_map), facts, stood["columns"])
    reading = search.best_reading(evidence)
    found = number_entries.Found(columns, evidence, reading, search.margins(evidence, reading), stood["columns"])
    number_entries.propose_numbers(proposal, found)
    layout_entries.propose_rows(proposal, columns, tables)
    people_entries.propose_bay(proposal, columns, tables, facts)
    _keep(proposal, stood)
    return proposal


def _evidence(
    columns: Columns, clubs: list[str | None], facts: HomeFacts, kept: Mapping[str, Mapping[str, Any]]
) -> Evidence:
    """Return the columns of numbers thinned to a few shots, with what a person said of them."""
    step = max(1, len(columns.rows) // MOST_SHOTS)
    settled = {
        said["from"]: name for name, said in kept.items() if isinstance(said.get("from"), str) and said["from"] != OPEN
    }
    numeric: dict[int, NumericColumn] = {}
    for place, column in columns.numeric.items():
        name = settled.get(column.header)
        side = kept.get(name or "", {}).get("positive")
        numeric[place] = replace(
            column,
            values=column.values[::step],
            settled=name if settled.get(column.header) in readings.NAMES else None,
            side=side if side not in (None, OPEN) else column.side,
        )
    units = {
        name: said["unit"]
        for name, said in kept.items()
        if said.get("unit") not in (None, OPEN) and name in readings.NAMES and said.get("from") in settled
    }
    height = facts.altitude()
    slack = physics.CARRY_SLACK if height is None else physics.CARRY_SLACK_AT_SITE
    density = SEA_LEVEL * float(np.exp(-(height or 0.0) / SCALE_HEIGHT))
    return Evidence(numeric, lofts_of(clubs)[::step], units, density, slack)


def _keep(proposal: Proposal, stood: Mapping[str, Mapping[str, Any]]) -> None:
    """Put back what a person wrote and the samples say nothing of, and what was answered beside them."""
    for section in ("rows", "fields", "columns", "inbox"):
        entries = {entry.key: entry for entry in proposal.entries if entry.section == section}
        for key, value in stood[section].items():
            entry = entries.get(key)
            if _open(value):
                continue
            if entry is None:
                proposal.add(section, key, value, KEPT, "as it stood here")
            elif entry.value != value and (section != "columns" or key in ("struck_at", "student_id")):
                entry.value, entry.how, entry.questions, entry.why = value, KEPT, [], "as it stood here"


def _open(value: Any) -> bool:
    """Return whether a "?" stands anywhere in a value."""
    if isinstance(value, dict):
        return any(_open(part) for part in value.values())
    return any(_open(part) for part in value) if isinstance(value, list) else value == OPEN


def read_kept(path: Path | None, answers: Sequence[str] = ()) -> dict[str, Any]:
    """Return the profile as it stands, with answers such as columns.lateral.positive=left put in.

    Raises
    ------
    ValueError
        The file is no TOML, or an answer names no key.
    """
    kept: dict[str, Any] = {}
    if path is not None and path.exists():
        try:
            kept = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
        except (ValueError, UnicodeDecodeError) as fault:
            raise ValueError(
                f"{path.name} stands there and is not TOML ({fault}): correct it, or move it away"
            ) from None
    for answer in answers:
        key, mark, value = answer.partition("=")
        parts = key.strip().split(".")
        if not mark or parts[0] not in ("file", "rows", "fields", "columns", "inbox") or len(parts) < 2:
            raise ValueError(f"'{answer}' is no answer: write its key and value, such as columns.lateral.positive=left")
        at = kept
        depth = 3 if "map" in parts else len(parts) - 1
        for part in parts[:depth]:
            at = at.setdefault(part, {})
        at[".".join(parts[depth:])] = value.strip()
    return kept
