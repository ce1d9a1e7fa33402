"""The profile's lines for the numbers: column, unit, sign, each with how sure it is and why; ties become questions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from warehouse.landing.learning import readings, search, words
from warehouse.landing.learning.columns import side_pair
from warehouse.landing.learning.entries import (
    KEPT,
    LIKELY,
    LIKELY_FROM,
    OPEN,
    QUESTION,
    SAID,
    SURE,
    Proposal,
    Question,
    level,
)
from warehouse.landing.learning.readings import SIDED
from warehouse.landing.learning.sides import Found, sign_questions
from warehouse.landing.profile import units as profile_units
from warehouse.schema.metrics import EXPORTED_BY_NAME

RANK = (SAID, KEPT, SURE, LIKELY, QUESTION)
ODD = -6.0
"""Nats below which a relation that must hold does not."""
DOUBTFUL = -2.0
"""Nats below which a column is doubted though its header names it."""
WORTH_ASKING = 0.5
"""Nats from which a column without a telling header is asked about."""
NAMED = 5.0
"""A header that means something this well is taken at its word unless the numbers object."""


def trusted(found: Found) -> list[str]:
    """Return the metrics whose column is taken: named by its header, said by a person, or told by the numbers alone."""
    names = []
    for name in readings.NAMES:
        choice = found.reading.get(name)
        if choice is None:
            continue
        column = found.evidence.columns[choice.place]
        named = column.settled == name or column.meanings.get(name, 0.0) >= 3.0
        if named or found.margin(name, "column") >= WORTH_ASKING or EXPORTED_BY_NAME[name].required:
            names.append(name)
    return names


def propose_numbers(proposal: Proposal, found: Found) -> None:
    """Add a line for every number that was found, and for required ones that were not."""
    names = trusted(found)
    kept_reading = {name: found.reading[name] for name in names}
    terms = found.evidence.terms(kept_reading)
    swapped = _contradicted(found, names)
    signs = sign_questions(found, names)
    for name, number in EXPORTED_BY_NAME.items():
        if name in kept_reading:
            _line(proposal, found, name, terms, swapped.get(name), signs.get(name))
        elif number.required:
            _missing(proposal, found, name)
    used = {choice.place for choice in kept_reading.values()}
    for place, column in found.evidence.columns.items():
        if place not in used and not column.meanings:
            proposal.remarks.append(
                f"'{column.header}' is not used: nothing says what it is (middle {np.nanmedian(column.values):g})"
            )
    for term in terms:
        if term.nats < ODD and not any(name in swapped for name in term.metrics):
            proposal.remarks.append(f"odd: {term.words}; is a column or a unit mistaken?")


def _line(
    proposal: Proposal, found: Found, name: str, terms: Sequence[Any], swapped: str | None, sign: Question | str | None
) -> None:
    choice, number = found.reading[name], EXPORTED_BY_NAME[name]
    column, cells = found.evidence.columns[choice.place], found.columns.numbers[choice.place]
    header = found.header(name)
    value: dict[str, Any] = {"from": header}
    questions: list[Question] = []
    hows: list[str] = []
    whys: list[str] = []
    _column_part(found, name, value, questions, hows, whys, swapped)
    _unit_part(found, name, value, questions, hows, whys)
    pair = side_pair(cells)
    if pair is not None:
        value["sides"] = dict(sorted(pair[1].items()))
        hows.append(SAID)
        whys.append("each cell says its side")
    elif name in profile_units.PLUS and (
        sign is not None or choice.sign == -1 or column.side is not None or name in SIDED
    ):
        plus, minus = profile_units.SIGNS[profile_units.PLUS[name]]
        if isinstance(sign, Question):
            value["positive"] = OPEN
            questions.append(sign)
        else:
            value["positive"] = plus if choice.sign == 1 else minus
            hows.append(
                (KEPT if found.kept.get(name, {}).get("positive") else SAID)
                if column.side
                else level(found.margin(name, "sign"))
            )
            if column.side is None and isinstance(sign, str):
                whys.append(sign)
    if cells.feet_and_inches:
        value["written"] = "feet and inches"
    elif cells.unit_words:
        value["written"] = "with unit"
        strange = {
            word: unit
            for word in cells.unit_words
            if (unit := words.unit_of(word)) and word.casefold() != unit.casefold()
        }
        if strange:
            value["unit_words"] = strange
    if not number.required:
        value["optional"] = True
    tied = [term.words for term in terms if name in term.metrics and term.nats > 0.5 and term.words]
    whys += tied[:1]
    how = max(hows, key=RANK.index) if hows else LIKELY
    proposal.add("columns", name, value, how, "; ".join(dict.fromkeys(whys)), *questions)


def _column_part(
    found: Found,
    name: str,
    value: dict[str, Any],
    questions: list[Question],
    hows: list[str],
    whys: list[str],
    swapped: str | None,
) -> None:
    choice = found.reading[name]
    column = found.evidence.columns[choice.place]
    header, own = found.header(name), column.meanings.get(name, 0.0)
    margin = found.margins.get((name, "column"))
    label = EXPORTED_BY_NAME[name].label
    if column.settled == name and own < NAMED:
        hows.append(KEPT)
        whys.append("as it stood here")
        return
    if swapped:
        value["from"] = OPEN
        questions.append(
            Question(f"columns.{name}.from", swapped, tuple(dict.fromkeys([header, *_rivals(found, name)])))
        )
        return
    if margin is not None and margin.nats < LIKELY_FROM and own < NAMED:
        other = margin.other
        rival = found.columns.table.header[other.place] if other is not None else None
        text = (
            f"is the {label} under '{header}' or '{rival}'?"
            if rival
            else f"is '{header}' the {label}? Its numbers fit, and nothing else says so (delete the line if not)"
        )
        value["from"] = OPEN
        questions.append(Question(f"columns.{name}.from", text, tuple(one for one in (header, rival) if one)))
        return
    if margin is not None and margin.nats < DOUBTFUL and column.settled != name:
        value["from"] = OPEN
        text = f"'{header}' means {label} by its name, not by its numbers: is it (delete the line if not)?"
        questions.append(Question(f"columns.{name}.from", text, (header,)))
        return
    hows.append(SURE if own >= NAMED else level(margin.nats) if margin else LIKELY)
    whys.append(f"the header means {label}" if own >= 3 else "by the numbers alone")


def _rivals(found: Found, name: str) -> list[str]:
    """Return headers that mean a metric."""
    return [column.header for column in found.evidence.columns.values() if column.meanings.get(name, 0.0) >= NAMED]


def _unit_part(
    found: Found, name: str, value: dict[str, Any], questions: list[Question], hows: list[str], whys: list[str]
) -> None:
    choice = found.reading[name]
    column = found.evidence.columns[choice.place]
    value["unit"] = choice.unit
    if name in found.evidence.units and column.unit != choice.unit:
        hows.append(KEPT)
        return
    if column.unit is not None:
        hows.append(SAID)
        whys.append(f"{choice.unit} is said")
        return
    if len(profile_units.units_for(EXPORTED_BY_NAME[name])) == 1:
        return
    margin = found.margins.get((name, "unit"))
    if margin is None or margin.nats >= LIKELY_FROM:
        hows.append(level(margin.nats) if margin else SURE)
        whys.append(f"{choice.unit} by the numbers")
        return
    options = _units_near(found, name)
    middle = np.nanmedian(column.values)
    fit = "both" if len(options) == 2 else "all"
    said = f"in which unit is '{column.header}' (middle {middle:g}): {' or '.join(options)}?"
    text = f"{said} The numbers fit {fit}"
    partner = next(
        (
            other
            for other in _partners(name)
            if other in found.reading
            and other not in found.evidence.units
            and found.evidence.columns[found.reading[other].place].unit is None
            and list(EXPORTED_BY_NAME).index(other) < list(EXPORTED_BY_NAME).index(name)
            and margin.otherwise.get(other, found.reading[other]).unit != found.reading[other].unit
        ),
        None,
    )
    value["unit"] = OPEN
    questions.append(Question(f"columns.{name}.unit", text, options, f"columns.{partner}.unit" if partner else None))


def _partners(name: str) -> tuple[str, ...]:
    return next((group for group in (readings.SPEEDS, readings.LENGTHS, readings.SPOTS) if name in group), ())


def _units_near(found: Found, name: str) -> tuple[str, ...]:
    best = found.evidence.energy(found.reading)
    near = {found.reading[name].unit: 0.0}
    for other in search.unit_moves(found.evidence, found.reading):
        unit = other[name].unit
        nats = best - found.evidence.energy(other)
        if unit not in near or nats < near[unit]:
            near[unit] = nats
    return tuple(sorted((unit for unit, nats in near.items() if nats < LIKELY_FROM), key=lambda unit: near[unit]))


def _contradicted(found: Found, names: Sequence[str]) -> dict[str, str]:
    """Return metric -> question, where the numbers say that a column is not what its header says."""
    asked: dict[str, str] = {}
    for name in names:
        column = found.evidence.columns[found.reading[name].place]
        if column.settled == name or column.meanings.get(name, 0.0) >= 3.0:
            continue
        said = max(column.meanings, key=lambda one: column.meanings[one]) if column.meanings else ""
        if said in EXPORTED_BY_NAME and column.meanings[said] >= NAMED + 2:
            asked[name] = (
                f"'{column.header}' means {EXPORTED_BY_NAME[said].label}, and its numbers are those of "
                f"{EXPORTED_BY_NAME[name].label}: which column is the {EXPORTED_BY_NAME[name].label}?"
            )
    return asked


def _missing(proposal: Proposal, found: Found, name: str) -> None:
    number = EXPORTED_BY_NAME[name]
    held = {choice.place: metric for metric, choice in found.reading.items()}
    free = [
        column.header
        for column in found.evidence.columns.values()
        if column.place not in held and (not column.meanings or any(one in EXPORTED_BY_NAME for one in column.meanings))
    ]
    free += [
        column.header
        for column in found.evidence.columns.values()
        if column.place in held and column.meanings.get(name, 0.0) >= 3.0
    ]
    if name == "launch_angle" and not free:
        proposal.add("columns", name, {"optional": True}, LIKELY, "no column means launch angle: this make has none")
        return
    unit = profile_units.units_for(number)[0]
    proposal.add(
        "columns",
        name,
        {"from": OPEN, "unit": unit if len(profile_units.units_for(number)) == 1 else OPEN},
        "",
        f"no column was found for the {number.label}, which a shot needs",
        Question(
            f"columns.{name}.from", f"in which column does the {number.label} stand, and in which unit?", tuple(free)
        ),
    )
