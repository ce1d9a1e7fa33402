"""The profile's line for the club: which column, and what each name in it means; names nobody knows are asked."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence

from warehouse.landing.learning import clubs, words
from warehouse.landing.learning.cells import is_nothing
from warehouse.landing.learning.columns import Columns
from warehouse.landing.learning.entries import KEPT, LIKELY, OPEN, SURE, Proposal, Question
from warehouse.landing.learning.tables import SampleTable
from warehouse.schema.metrics import CLUBS

FEW_SHOTS = 0.01
"""Below this share of the shots a name that nobody knows is told and not asked."""


def club_names(columns: Columns) -> list[str]:
    """Return each shot's club as its file names it; empty where there is no column of clubs."""
    return columns.texts(columns.club) if columns.club is not None else [""] * len(columns.rows)


def canonical_clubs(names: Sequence[str], kept: Mapping[str, str]) -> list[str | None]:
    """Return each shot's club, by the map that was kept and by the words."""
    letters = clubs.letter_kinds(set(names))
    known = {name: kept.get(name) or clubs.club_of(name, letters).club for name in set(names) if name}
    return [known.get(name) if known.get(name) != OPEN else None for name in names]


def propose_club(  # noqa: PLR0912  one branch for each thing a name can be
    proposal: Proposal, columns: Columns, tables: Sequence[SampleTable], kept: Mapping[str, str]
) -> None:
    """Add the lines of `club`, and the rule that passes putts over."""
    if columns.club is None:
        _without_column(proposal, columns, tables)
        return
    header = columns.table.header[columns.club]
    counts = Counter(name for name in club_names(columns) if name and not is_nothing(name))
    letters = clubs.letter_kinds(counts)
    mapping: dict[str, str] = {}
    questions: list[Question] = []
    putts: list[str] = []
    doubtful: dict[str, list[str]] = {}
    for name, count in counts.most_common():
        said = clubs.club_of(name, letters)
        if kept.get(name, OPEN) != OPEN:
            mapping[name] = kept[name]
        elif said.club is not None and said.sure:
            mapping[name] = said.club
        elif "putts" in said.why:
            putts.append(name)
        elif said.club is not None and "letter" in said.why:
            doubtful.setdefault(said.why, []).append(name)
        elif said.club is not None and "loft" not in said.why:
            mapping[name] = said.club
            proposal.remarks.append(f"'{name}' is taken for {said.club}, the rest of its name aside")
        elif count < FEW_SHOTS * sum(counts.values()) and said.club is None:
            proposal.remarks.append(
                f"no club is known by the name '{name}': its {count} shots would be refused; add it to the map"
            )
        else:
            mapping[name] = OPEN
            hint = f" (perhaps {said.club}: {said.why})" if said.club else f" ({said.why})"
            questions.append(
                Question(f"columns.club.map.{name}", f"which club is '{name}', {count} shots?{hint}", tuple(CLUBS))
            )
    for why, names in doubtful.items():
        first = names[0]
        for name in names:
            mapping[name] = OPEN
            both = tuple(
                f"{kind}-{re.sub(r'[^0-9]', '', name)}"
                for kind in clubs.LETTERS[words.bare(re.sub(r"[^A-Za-z]", "", name))]
            )
            text = f"which club is '{name}'? {why}"
            questions.append(
                Question(f"columns.club.map.{name}", text, both, None if name == first else f"columns.club.map.{first}")
            )
    mapping |= {name: club for name, club in kept.items() if name not in mapping and club != OPEN}
    if all(name == club for name, club in mapping.items()):
        proposal.add("columns", "club", {"from": header}, SURE, "the names are the canonical ones")
        return
    whole = {**mapping, **_siblings(mapping)}
    how = KEPT if kept and set(counts) <= set(kept) else SURE if not proposal.remarks else LIKELY
    shown = ", ".join(f"{name} = {club}" for name, club in list(mapping.items())[:4] if club != OPEN)
    known = sum(count for name, count in counts.items() if mapping.get(name, OPEN) != OPEN)
    proposal.add(
        "columns",
        "club",
        {"from": header, "spelling": "any", "map": whole},
        how,
        f"{known} of {sum(counts.values())} shots by their names ({shown} ...); names that were not in the samples "
        "are made after these",
        *questions,
    )
    if putts:
        pattern = "^(?i)(" + "|".join(re.escape(name) for name in putts) + ")$"
        proposal.add(
            "rows",
            "except_where",
            {header: pattern},
            SURE,
            f"putts and chips are no full swings: {sum(counts[name] for name in putts)} rows are passed over",
        )


def _siblings(mapping: Mapping[str, str]) -> dict[str, str]:
    """Return names that a make will use for clubs it did not name yet: Eisen 8 and Holz after Eisen 7, Ws after Wp."""
    taken = {name.casefold() for name in mapping}
    said = {part for name in mapping for part in re.findall(r"[^\W\d_]+", words.bare(name))}
    made: dict[str, str] = {}
    for language in clubs.KIND_WORDS:
        if said & {words.bare(word) for word in language}:
            made |= {word: kind for word, kind in language.items() if word.casefold() not in taken}
    if any(re.fullmatch(r"[Ww][pgsl]", name) for name in mapping):
        first = next(name[0] for name in mapping if re.fullmatch(r"[Ww][pgsl]", name))
        coded = {f"{first}{club.partition('-')[2][0]}": club for club in CLUBS if club.startswith("wedge-")}
        made |= {name: club for name, club in coded.items() if name.casefold() not in taken}
    for name, club in mapping.items():
        kind, _, number = club.partition("-")
        if club == OPEN or not number.isdigit() or len(re.findall(r"\d+", name)) != 1 or number not in name:
            continue
        for other in CLUBS:
            if other.startswith(kind + "-") and other != club:
                sibling = re.sub(r"\d+", other.partition("-")[2], name)
                if sibling.casefold() not in taken:
                    made[sibling] = other
    return made


def _without_column(proposal: Proposal, columns: Columns, tables: Sequence[SampleTable]) -> None:
    """Add the club from above the table or the sheet's name, or ask for it."""
    for label, value, _ in tables[0].labels:
        if "club" in words.meanings(label) and clubs.club_of(value).club:
            said = {
                value: clubs.club_of(value).club for table in tables for one, value, _ in table.labels if one == label
            }
            if all(said.values()):
                proposal.add("fields", "club_said", {"label": label}, SURE, "the club is said above the table")
                proposal.add(
                    "columns",
                    "club",
                    {"from": "club_said", "spelling": "any", "map": said},
                    SURE,
                    f"'{label}: {value}'",
                )
                return
    sheets = [table.grid.sheet for table in tables if table.grid.sheet]
    if sheets and all(clubs.club_of(sheet).club for sheet in sheets):
        proposal.add("fields", "club_said", {"sheet": "(.+)"}, SURE, "each sheet is named for a club")
        said = {sheet: clubs.club_of(sheet).club for sheet in sheets}
        proposal.add(
            "columns",
            "club",
            {"from": "club_said", "spelling": "any", "map": {**said, **_siblings(said)}},
            SURE,
            ", ".join(sheets),
        )
        return
    proposal.add(
        "columns",
        "club",
        {"from": OPEN},
        "",
        "no column holds clubs' names",
        Question(
            "columns.club.from",
            "in which column does the club stand?",
            tuple(name for name in columns.table.header if name),
        ),
    )
