"""The columns of a table as what they hold: times, clubs, people, bays, numbers; and which rows are shots.

Not here: which number is which metric (readings.py).
"""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from warehouse.landing.learning import clubs, times, words
from warehouse.landing.learning.cells import (
    CLOCK,
    DATE,
    Marks,
    NumberColumn,
    as_number,
    is_nothing,
    number_column,
    number_marks,
)
from warehouse.landing.learning.months import languages_of, months_in
from warehouse.landing.learning.readings import NumericColumn
from warehouse.landing.learning.tables import SampleTable
from warehouse.landing.profile import units as profile_units

LEAST_SHARE = 0.75
NOT_NUMBERS = {"time", "date", "date and time", "player", "note", "hand"}
CLUB_AS_NUMBER = {"club_speed": 3.0, "attack_angle": 1.0, "club_path": 1.0}
"""What a column of numbers may be whose header says no more than club or head."""


@dataclass
class TimeSource:
    """Where the time of a shot comes from, and the forms that fit it.

    `places`: columns, joined by a blank; `outside`: what has to come before them from outside the table ("date").
    """

    places: list[int]
    forms: list[times.TimeForm]
    why: str = ""
    outside: str = ""
    language: str | None = None


@dataclass
class Columns:
    """A table's columns by what they hold; see the module."""

    table: SampleTable
    marks: Marks
    rows: list[int]
    passed_over: list[int]
    time: TimeSource | None
    club: int | None
    player: list[int]
    bay: int | None
    numbers: dict[int, NumberColumn]
    numeric: dict[int, NumericColumn]
    other: dict[int, str] = field(default_factory=dict)
    meanings: dict[int, dict[str, float]] = field(default_factory=dict)

    def texts(self, place: int) -> list[str]:
        """Return one column's cells in the rows that are shots."""
        return self.table.texts(place, self.rows)


def read_columns(table: SampleTable) -> Columns:
    """Return what the columns of a table hold."""
    meant = {place: words.meanings(name) if name else {} for place, name in enumerate(table.header)}
    club = _club_place(table, meant)
    time = _time_source(table, meant, table.rows)
    rows, passed_over = _shots(table, time, club)
    if passed_over:
        time = _time_source(table, meant, rows) or time
        club = club if club is not None else _club_place(table, meant)
    taken = {club, *(time.places if time else ())}
    timely = {place for place, meaning in meant.items() if _best(meaning) in ("time", "date", "date and time")}
    cells = [cell for place in meant if place not in taken | timely for cell in table.texts(place, rows)]
    marks = (
        Marks(".", "", "native numbers") if table.grid.format in ("json", "jsonl", "parquet") else number_marks(cells)
    )
    numbers, numeric, other = {}, {}, {}
    for place, name in enumerate(table.header):
        if place in taken or not name:
            continue
        texts = table.texts(place, rows)
        column = number_column(texts, marks)
        meaning = meant[place]
        if _best(meaning) in NOT_NUMBERS or column.share < LEAST_SHARE or not np.isfinite(column.values).any():
            other[place] = _kind(meaning, texts)
            continue
        numbers[place] = column
        meaning = (
            {one: score for one, score in meaning.items() if one != "club"} or CLUB_AS_NUMBER
            if "club" in meaning
            else meaning
        )
        numeric[place] = _numeric(place, name, column, meaning, table.units[place])
    player = _players(table, meant, other, rows)
    bay = next((place for place in (*other, *numeric) if _best(meant[place]) == "bay"), None)
    numeric = {place: column for place, column in numeric.items() if place != bay and place not in player}
    return Columns(table, marks, rows, passed_over, time, club, player, bay, numbers, numeric, other, meant)


def _best(meaning: dict[str, float]) -> str:
    return max(meaning, key=lambda name: meaning[name]) if meaning else ""


def _kind(meaning: dict[str, float], texts: Sequence[str]) -> str:
    if not any(texts):
        return "empty"
    return _best(meaning) or "text"


def _club_place(table: SampleTable, meant: dict[int, dict[str, float]]) -> int | None:
    """Return the column of clubs: by its header and its names, or by its names alone."""
    best, most = None, 0.45
    for place, meaning in meant.items():
        texts = [text for text in table.texts(place) if text and not is_nothing(text)]
        share = clubs.share_of_clubs(texts)
        names = {text for text in texts}
        if not names or sum(
            as_number(text) is not None and text[0].isdigit() and text[-1].isdigit() for text in names
        ) > 0.7 * len(names):
            share = 0.0
        score = share + (0.5 if "club" in meaning else 0.0) - (0.4 if _best(meaning) in ("player", "bay") else 0.0)
        repeated = len(names) <= max(3, 0.7 * len(texts))
        if score > most and repeated and any(any(letter.isalpha() for letter in name) for name in names):
            best, most = place, score
    return best


def _time_source(table: SampleTable, meant: dict[int, dict[str, float]], rows: list[int]) -> TimeSource | None:
    """Return where a shot's time comes from: one column, a date's and a clock's, or a clock alone."""
    whole, dates, clocks = [], [], []
    for place, meaning in meant.items():
        texts = table.texts(place, rows)
        named = meaning.get("time", 0.0) + meaning.get("date", 0.0) + meaning.get("date and time", 0.0)
        filled = [text for text in texts if text and not is_nothing(text)]
        timely = sum(bool(CLOCK.search(text) or DATE.search(text)) for text in filled)
        digits = all(re.fullmatch(r"\d{6,17}(\.\d+)?", text) for text in filled) if filled else False
        if not filled or (timely < 0.6 * len(filled) and not digits and not named >= 5):
            continue
        if not named and any(meaning.values()) and timely < 0.9 * len(filled):
            continue
        usable = [text if text and any(c.isdigit() for c in text) else "" for text in texts]
        found, language = _forms(usable)
        if digits and not named:
            found = [form for form in found if form.dated and form.clocked]
        for kind, wanted in ((whole, (True, True)), (dates, (True, False)), (clocks, (False, True))):
            fits = [form for form in found if (form.dated, form.clocked) == wanted]
            if fits:
                kind.append((named, -place, TimeSource([place], fits, language=language)))
                break
    if whole:
        return max(whole, key=lambda one: one[:2])[2]
    if dates and clocks:
        date, clock = (max(kind, key=lambda one: one[:2])[2] for kind in (dates, clocks))
        joined = [
            " ".join(pair)
            for pair in zip(table.texts(date.places[0], rows), table.texts(clock.places[0], rows), strict=True)
        ]
        found, language = _forms(joined)
        found = [form for form in found if form.dated and form.clocked]
        if found:
            return TimeSource([*date.places, *clock.places], found, "date and time stand in two columns", "", language)
    if clocks:
        clock = max(clocks, key=lambda one: one[:2])[2]
        return TimeSource(clock.places, clock.forms, "the table has only the time of day", "date", clock.language)
    if dates:
        date = max(dates, key=lambda one: one[:2])[2]
        return TimeSource(date.places, date.forms, "the table has only the date", "clock", date.language)
    return None


def _forms(texts: list[str]) -> tuple[list[times.TimeForm], str | None]:
    found = times.forms(texts)
    if found or not any(letter.isalpha() for text in texts for letter in text):
        return found, None
    for language in languages_of(texts):
        found = times.forms(texts, months_in(language))
        if found:
            return found, language
    return [], None


def _shots(table: SampleTable, time: TimeSource | None, club: int | None) -> tuple[list[int], list[int]]:
    """Return (rows that are shots, rows that are not): a shot has a time with digits, or else enough of the columns."""
    rows, over = [], []
    lengths = [sum(bool(cell) for cell in table.grid.rows[at]) for at in table.rows]
    usual = float(np.median(lengths)) if lengths else 0.0
    timed = time.places[-1] if time else None
    for at, length in zip(table.rows, lengths, strict=True):
        row = table.grid.rows[at]
        cell = row[timed] if timed is not None and timed < len(row) else ""
        named = row[club] if club is not None and club < len(row) else ""
        dated = timed is None or bool(CLOCK.search(cell) or DATE.search(cell) or re.search(r"\d{6,}", cell))
        is_shot = dated and length >= 0.4 * usual and (timed is not None or club is None or bool(named))
        (rows if is_shot else over).append(at)
    return (rows, over) if rows else (table.rows, [])


def _numeric(place: int, name: str, column: NumberColumn, meaning: dict[str, float], unit: str | None) -> NumericColumn:
    """Return a column of numbers with what its header and its cells say."""
    cell_units = Counter({words.unit_of(word): count for word, count in column.unit_words.items()})
    if unit is None and cell_units:
        unit = cell_units.most_common(1)[0][0]
    if unit == "deg" and not meaning:
        unit = "deg"
    likely = [metric for metric in meaning if metric in profile_units.PLUS]
    sides = [
        side for metric in likely or profile_units.PLUS for side in profile_units.SIGNS[profile_units.PLUS[metric]]
    ]
    side = words.side_in_header(name, sides)
    values = column.values
    if column.feet_and_inches:
        unit = "ft"
    pair = side_pair(column)
    if pair is not None:
        plus, words_of = pair
        signs = np.array([-1.0 if words_of.get(word) not in (None, plus) else 1.0 for word in column.side_of])
        values, side = values * signs, plus
    hint = None
    if side is None:
        said = {
            found for token in words.tokens(name) if len(token) > 3 for found in words.sides_of(token) if found in sides
        }
        hint = said.pop() if len(said) == 1 else None
    return NumericColumn(place, name, values, meaning, unit, side, hint)


def side_pair(column: NumberColumn) -> tuple[str, dict[str, str]] | None:
    """Return (canonical plus, word -> side) where the words at numbers are a pair of sides; else None."""
    said = sum(column.side_words.values())
    if not said or said < 0.3 * np.isfinite(column.values).sum():
        return None
    for plus, pair in profile_units.SIGNS.items():
        found = {
            word: next((side for side in words.sides_of(word) if side in pair), None) for word in column.side_words
        }
        if all(found.values()):
            return plus, {word: side for word, side in found.items() if side}
    return None


def _players(
    table: SampleTable, meant: dict[int, dict[str, float]], other: dict[int, str], rows: list[int]
) -> list[int]:
    """Return the columns that name the player: one, or first and last name."""
    named = [
        (meant[place].get("player", 0.0), place)
        for place in meant
        if _best(meant[place]) == "player" and place in other
    ]
    named = [(score, place) for score, place in named if any(table.texts(place, rows))]
    if not named:
        return []
    identity = [
        place
        for _, place in named
        if re.search(r"(?i)\b(id|no|nr|ref|nummer|kennung)\b", table.header[place].replace("_", " "))
    ]
    if identity:
        return identity[:1]
    first = [place for _, place in named if _name_part(table.header[place]) == "first"]
    last = [place for _, place in named if _name_part(table.header[place]) == "last"]
    if first and last:
        return [first[0], last[0]]
    return [max(named, key=lambda one: (one[0], -one[1]))[1]]


def _name_part(header: str) -> str:
    said = words.bare(header)
    if re.search(r"first|vorname|voornaam|prenom|fornamn|jmeno|imie|given", said):
        return "first"
    return (
        "last"
        if re.search(
            r"last|surname|nachname|achternaam|efternamn|prijmeni|nazwisko|family|apellido|cognome|sobrenome|apelido",
            said,
        )
        else ""
    )


def time_of(columns: Columns, form: times.TimeForm) -> list[dt.datetime | None]:
    """Return each shot's moment by a form."""
    return list(form.moments)
