"""The profile's lines for who hit and in which bay: a column, a line above the table, a sheet's or a file's name."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from warehouse.landing.learning import words
from warehouse.landing.learning.cells import is_nothing
from warehouse.landing.learning.columns import Columns
from warehouse.landing.learning.entries import ASSUMED, LIKELY, OPEN, SAID, SURE, Proposal, Question
from warehouse.landing.learning.home_facts import HomeFacts
from warehouse.landing.learning.tables import SampleTable
from warehouse.landing.onboarding.duplicate_people import normal_name

BAY_WORDS = (
    "bay|box|mat|stall|booth|lane|platz|abschlag|kabine|poste|tapis|puesto|bahia|postazione|baia|plats|boks|"
    "stanowisko|baan|b"
)
BAY_IN_NAME = rf"(?i)(?:{BAY_WORDS})[ _-]?0*(\d{{1,3}})(?:\D|$)"


def propose_player(proposal: Proposal, columns: Columns, tables: Sequence[SampleTable], home: HomeFacts) -> None:
    """Add the line of `student_id`, or a remark that nobody is named."""
    source, names, where = _player_source(proposal, columns, tables, home)
    if source is None:
        proposal.remarks.append("nobody is named in the samples: shots are the booked student's, by the lesson book")
        return
    value: dict[str, object] = {"from": source, "optional": True}
    said = [name for name in names if name and not is_nothing(name)]
    if not home.students:
        looks = "name" if said and all(_is_name(name) for name in said) else "either"
        value["lookup"] = looks
        why = "they are written as names" if looks == "name" else "ids or names: without --home nobody is known yet"
        proposal.add("columns", "student_id", value, ASSUMED, f"{where}; {why}")
        return
    ids = sum(name in home.student_ids for name in said)
    people = sum(normal_name(name) in home.student_names for name in said)
    value["lookup"] = "either" if ids and people else "name" if people else "id" if ids else "either"
    unknown = Counter(
        name for name in said if name not in home.student_ids and normal_name(name) not in home.student_names
    )
    if unknown:
        proposal.remarks.append(
            f"{sum(unknown.values())} shots name {len(unknown)} people who are not in students.csv; "
            "academy check-exports tells who they are"
        )
    how = SURE if ids + people >= 0.5 * max(len(said), 1) else LIKELY
    proposal.add("columns", "student_id", value, how, f"{where}; {ids + people} of {len(said)} are in students.csv")


def _is_name(text: str) -> bool:
    parts = [part for part in re.split(r"[\s,]+", text) if part]
    return len(parts) >= 2 and all(not any(letter.isdigit() for letter in part) for part in parts)


def _player_source(
    proposal: Proposal, columns: Columns, tables: Sequence[SampleTable], home: HomeFacts
) -> tuple[str | list[str] | None, list[str], str]:
    """Return (from, names, where); a field is added where it stands outside the table."""
    header = columns.table.header
    if columns.player:
        texts = [" ".join(cells) for cells in zip(*(columns.texts(place) for place in columns.player), strict=True)]
        named = [header[place] for place in columns.player]
        return (named[0] if len(named) == 1 else named), texts, f"under {' and '.join(repr(name) for name in named)}"
    if home.students and (place := _by_content(columns, home)) is not None:
        return header[place], columns.texts(place), f"under '{header[place]}', whose values are students'"
    paths = tables[0].grid.outside
    for path, values in paths.items():
        if "player" in words.meanings(path.split("[]")[-1].replace(".", " ")):
            proposal.add("fields", "player", {"path": path, "optional": True}, SAID, "it stands above the shots")
            return "player", values, f"at {path}"
    for label in dict.fromkeys(label for table in tables for label, _, _ in table.labels):
        if "player" in words.meanings(label):
            values = [value for table in tables for one, value, _ in table.labels if one == label]
            proposal.add(
                "fields",
                "player",
                {"label": label, "optional": True},
                SAID,
                f"the line '{label}' stands outside the table",
            )
            return "player", values, f"on the line '{label}'"
    sheets = [table.grid.sheet for table in tables if table.grid.sheet]
    if sheets and sum(normal_name(sheet) in home.student_names for sheet in sheets) >= 0.5 * len(sheets):
        proposal.add("fields", "player", {"sheet": "(.+)"}, SURE, "sheets are named for students")
        return "player", sheets, "by the sheet's name"
    return None, [], ""


def _by_content(columns: Columns, home: HomeFacts) -> int | None:
    """Return the column whose values are nearly all ids or names of students; None where there is none."""
    for place in [*columns.other, *columns.numbers]:
        said = {text for text in columns.texts(place) if text}
        known = sum(text in home.student_ids or normal_name(text) in home.student_names for text in said)
        if said and known >= 0.8 * len(said) and not columns.meanings.get(place):
            return place
    return None


def propose_bay(proposal: Proposal, columns: Columns, tables: Sequence[SampleTable], home: HomeFacts) -> None:
    """Add [inbox] bay where a file says its bay; else the only bay of the make is meant."""
    header = columns.table.header
    if columns.bay is not None:
        _bay_line(proposal, header[columns.bay], columns.texts(columns.bay), f"under '{header[columns.bay]}'", home)
        return
    for path, values in tables[0].grid.outside.items():
        if "bay" in words.meanings(path.split("[]")[-1].replace(".", " ")):
            proposal.add("fields", "station", {"path": path}, SAID, "it stands above the shots")
            _bay_line(proposal, "station", values, f"at {path}", home)
            return
    for label, _, _ in tables[0].labels:
        if "bay" in words.meanings(label) and "player" not in words.meanings(label):
            values = [value for table in tables for one, value, _ in table.labels if one == label]
            proposal.add(
                "fields", "station", {"label": label}, SAID, f"'{label}: {values[0]}' stands outside the table"
            )
            _bay_line(proposal, "station", values, f"on the line '{label}'", home)
            return
    names = [table.grid.path.name.split(".")[0] for table in tables]
    for kind, said in (("file_name", names), ("sheet", [table.grid.sheet or "" for table in tables])):
        found = [re.search(BAY_IN_NAME, text) for text in said]
        if all(found) and (
            len(set(said)) > 1
            or home.bays
            or any(not text.casefold().startswith("b") or "bay" in text.casefold() for text in said)
        ):
            values = [match[1] for match in found if match]
            proposal.add("fields", "station", {kind: BAY_IN_NAME}, LIKELY, f"'{said[0]}' names a bay")
            _bay_line(proposal, "station", values, f"in the {kind.replace('_', ' ')}", home)
            return
    proposal.remarks.append(
        "no bay is named in the samples: files in the inbox count for the only bay of this make in bays.csv"
    )


def _bay_line(proposal: Proposal, source: str, values: Sequence[str], where: str, home: HomeFacts) -> None:
    said = Counter(value for value in values if value)
    if not home.bays:
        proposal.add(
            "inbox", "bay", {"from": source}, LIKELY, f"{where}: {', '.join(list(said)[:5])}; as bay_id in bays.csv"
        )
        return
    mapping: dict[str, str] = {}
    questions: list[Question] = []
    for value in said:
        if value in home.bay_ids:
            continue
        number = re.findall(r"\d+", value)
        fits = [
            bay
            for bay in home.bay_ids
            if number and re.findall(r"\d+", bay) and int(re.findall(r"\d+", bay)[-1]) == int(number[-1])
        ]
        alike = [bay for bay in home.bay_ids if words.bare(bay) == words.bare(value)]
        if len(alike) == 1 or len(fits) == 1:
            mapping[value] = (alike or fits)[0]
        else:
            mapping[value] = OPEN
            questions.append(Question(f"inbox.bay.map.{value}", f"which bay is '{value}' ({where})?", home.bay_ids))
    entry: dict[str, object] = {"from": source} | ({"map": mapping} if mapping else {})
    proposal.add(
        "inbox", "bay", entry, SURE if not mapping else LIKELY, f"{where}: {', '.join(list(said)[:5])}", *questions
    )
