"""In which form a column of times is written, and which forms fit equally well.

Not here: what zone the clock keeps (proposal.py).
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import product

ISO = "ISO 8601"
DATES = ("%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d", "%Y%m%d", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%d-%m-%Y", "%m-%d-%Y",
         "%m.%d.%Y", "%d.%m.%y", "%d/%m/%y", "%m/%d/%y", "%d-%m-%y", "%m-%d-%y", "%y-%m-%d", "%y/%m/%d", "%d. %m. %Y",
         "%d.%m. %Y", "%d %m %Y",
         "%d %b %Y", "%d-%b-%Y", "%d-%b-%y", "%d %B %Y", "%d. %b %Y", "%d. %B %Y", "%b %d, %Y", "%B %d, %Y", "%b %d %Y",
         "%d/%b/%Y", "%d.%b.%Y", "%d de %B de %Y", "%d %b, %Y", "%a %d %b %Y", "%A, %B %d, %Y", "%a, %d %b %Y",
         "%d%m%Y", "%m%d%Y", "%d%b%Y")  # fmt: skip
CLOCKS = ("%H:%M:%S", "%H:%M:%S.%f", "%H:%M", "%I:%M:%S %p", "%I:%M:%S.%f %p", "%I:%M %p", "%I:%M:%S%p",
          "%I:%M%p", "%H.%M.%S", "%H.%M",
          "%Hh%M", "%Hh%Mm%Ss", "%Hh%M:%S", "%H:%M:%S,%f", "%H%M%S", "%I.%M.%S %p", "%H-%M-%S")  # fmt: skip
BETWEEN = (" ", "T", ", ", " - ", "  ", "_", "-", " um ", " at ", " @ ", " kl. ", "; ")
OFFSETS = ("", "%z", " %z")
ENOUGH = 0.97
EPOCH = {"epoch": (9.0e8, 2.6e9), "epoch_ms": (9.0e11, 2.6e12)}


@dataclass(frozen=True)
class TimeForm:
    """One form that fits: its format (ISO, a strptime format, epoch, epoch_ms), and the moments it gives."""

    format: str
    moments: tuple[dt.datetime | None, ...]
    dated: bool = True
    clocked: bool = True
    offset: bool = False

    @property
    def known(self) -> list[dt.datetime]:
        """Return the moments that were read, without offset."""
        return [moment.replace(tzinfo=None) for moment in self.moments if moment is not None]


def halves(text: str) -> str:
    """Return a time with am and pm as strptime knows them, and fractions of at most six digits."""
    text = re.sub(r"\b([ap])\.?\s?m\.?(?=\W|$)", lambda m: m[1].upper() + "M", text, flags=re.IGNORECASE)
    return re.sub(r"([.,]\d{6})\d+", r"\1", text)


def forms(texts: Sequence[str], language_months: dict[str, str] | None = None) -> list[TimeForm]:
    """Return every form in which nearly all texts can be read, dates and times of day alone included."""
    said = [halves(_translated(text.strip(), language_months or {})) for text in texts]
    filled = [text for text in said if any(letter.isdigit() for letter in text)]
    if not filled:
        return []
    if (numbered := _epoch(said)) is not None:
        return [numbered]
    if (iso := _iso(said, filled)) is not None:
        return [iso]
    probe = list(dict.fromkeys(filled))[:40]
    found = []
    for pattern, dated, clocked, offset in _candidates(probe[0]) + _candidates(probe[-1]):
        if sum(read(text, pattern) is not None for text in probe) < ENOUGH * len(probe):
            continue
        moments = tuple(read(text, pattern) for text in said)
        if sum(moment is not None for moment in moments) >= ENOUGH * len(filled):
            found.append(TimeForm(pattern, moments, dated, clocked, offset))
    return _without_doubles(found)


def _candidates(text: str) -> list[tuple[str, bool, bool, bool]]:
    """Return (pattern, has a date, has a clock, has an offset) of every pattern in which one text can be read."""
    found = [(date, True, False, False) for date in DATES if read(text, date)]
    found += [(clock, False, True, False) for clock in CLOCKS if read(text, clock)]
    found += [(whole, True, True, False) for whole in ("%Y%m%dT%H%M%S", "%Y%m%d%H%M%S") if read(text, whole)]
    for between in BETWEEN:
        at = text.find(between)
        while at > 0:
            one, other = text[:at], text[at + len(between) :]
            dates = [date for date in DATES if read(one, date)]
            clocks = [
                (clock + offset, bool(offset))
                for clock, offset in product(CLOCKS, OFFSETS)
                if read(other, clock + offset)
            ]
            found += [(date + between + clock, True, True, offset) for date in dates for clock, offset in clocks]
            clocks = [(clock, False) for clock in CLOCKS if read(one, clock)]
            dates = [date for date in DATES if read(other, date)]
            found += [(clock + between + date, True, True, False) for clock, _ in clocks for date in dates]
            at = text.find(between, at + 1)
    return list(dict.fromkeys(found))


MONTHS = {
    name: n
    for n, name in enumerate(
        ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"], start=1
    )
}
PIECES = {
    "Y": r"(?P<Y>\d{4})", "y": r"(?P<Y>\d{2})", "m": r"(?P<m>\d{1,2})", "d": r"(?P<d>\d{1,2})",
    "b": r"(?P<b>[A-Za-z]{3})\.?", "B": r"(?P<b>[A-Za-z]{3,9})", "a": r"[A-Za-z]{2,4}\.?", "A": r"[A-Za-z]+",
    "H": r"(?P<H>\d{1,2})", "I": r"(?P<H>\d{1,2})", "M": r"(?P<M>\d{2})", "S": r"(?P<S>\d{2})",
    "f": r"(?P<f>\d{1,6})", "p": r"(?P<p>[AaPp][Mm])", "z": r"(?P<z>[Zz]|[+-]\d{2}:?\d{2})",
}  # fmt: skip


@cache
def _expression(pattern: str) -> re.Pattern[str]:
    """Return a strptime format as a regular expression; two digits each where nothing stands between them."""
    packed = "%H%M" in pattern or "%Y%m" in pattern or "%d%m%Y" in pattern or "%m%d%Y" in pattern
    parts = re.split(r"%(\w)", pattern)
    said = "".join(re.escape(part) if n % 2 == 0 else PIECES[part] for n, part in enumerate(parts))
    return re.compile(said.replace("{1,2}", "{2}") if packed else said)


def read(text: str, pattern: str) -> dt.datetime | None:
    """Return the moment a text says in a strptime format (English months); None where it does not fit."""
    found = _expression(pattern).fullmatch(text)
    if found is None:
        return None
    said = found.groupdict()
    hour = int(said.get("H") or 0)
    if said.get("p"):
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + 12 * (said["p"].lower() == "pm")
    month = MONTHS.get(said["b"][:3].lower(), 0) if said.get("b") else int(said.get("m") or 1)
    year = int(said.get("Y") or 1900)
    micro = int((said.get("f") or "0").ljust(6, "0"))
    try:
        moment = dt.datetime(year + 2000 if "%y" in pattern else year, month, int(said.get("d") or 1), hour,
                             int(said.get("M") or 0), int(said.get("S") or 0), micro)  # fmt: skip
    except ValueError:
        return None
    if said.get("z"):
        zone = said["z"].upper().replace("Z", "+0000").replace(":", "")
        minutes = int(zone[1:3]) * 60 + int(zone[3:5])
        moment = moment.replace(tzinfo=dt.timezone(dt.timedelta(minutes=minutes if zone[0] == "+" else -minutes)))
    return moment


def _translated(text: str, months: dict[str, str]) -> str:
    if not months or not any(letter.isalpha() for letter in text):
        return text
    return re.sub(r"[^\W\d_]+\.?", lambda m: months.get(m[0].casefold().rstrip("."), m[0]), text)


def _epoch(said: list[str]) -> TimeForm | None:
    numbers = [float(text) if re.fullmatch(r"\d{9,13}(\.\d+)?", text) else None for text in said]
    filled = [number for number in numbers if number is not None]
    if len(filled) < ENOUGH * sum(bool(text) for text in said) or not filled:
        return None
    for name, (low, high) in EPOCH.items():
        if all(low <= number <= high for number in filled):
            over = 1000 if name == "epoch_ms" else 1
            moments = tuple(
                None if number is None else dt.datetime.fromtimestamp(number / over, dt.UTC) for number in numbers
            )
            return TimeForm(name, moments, offset=True)
    return None


def _iso(said: list[str], filled: list[str]) -> TimeForm | None:
    moments: list[dt.datetime | None] = []
    for text in said:
        try:
            sound = re.match(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}", text) or re.match(r"\d{8}T\d{6}", text)
            moments.append(dt.datetime.fromisoformat(text.replace(",", ".")) if sound else None)
        except ValueError:
            moments.append(None)
    known = [moment for moment in moments if moment is not None]
    if len(known) < ENOUGH * len(filled):
        return None
    return TimeForm(ISO, tuple(moments), offset=sum(moment.tzinfo is not None for moment in known) > 0.5 * len(known))


def _without_doubles(found: list[TimeForm]) -> list[TimeForm]:
    """Return the forms that give different moments; of those that agree the plainest."""
    kept: dict[tuple[dt.datetime | None, ...], TimeForm] = {}
    for form in sorted(found, key=lambda form: (form.format.count("%y"), len(form.format))):
        key = tuple(moment.replace(tzinfo=None) if moment else None for moment in form.moments)
        kept.setdefault(key, form)
    return list(kept.values())


def likelier(found: Sequence[TimeForm], now: dt.datetime, hint: Sequence[dt.date] = ()) -> tuple[list[TimeForm], str]:
    """Return the forms that stay possible and why: none in the future, near a date said elsewhere, in the file's order.

    Parameters
    ----------
    found
        Forms that fit the texts.
    now
        Local time, for what cannot have happened yet.
    hint
        Dates said in the file's name, its folder or above the table.
    """
    if len(found) < 2:
        return list(found), ""
    possible = [form for form in found if form.known and max(form.known) <= now + dt.timedelta(days=1)]
    if len(possible) == 1:
        return possible, "any other order of day and month would lie in the future"
    possible = possible or list(found)
    if hint:
        named = [form for form in possible if {moment.date() for moment in form.known} & set(hint)]
        if len(named) == 1:
            return named, "the date in the file's name, folder or title agrees"
    days = {form.format: sorted({moment.date() for moment in form.known}) for form in possible}
    spans = {name: (dates[-1] - dates[0]).days for name, dates in days.items()}
    shortest = min(spans.values())
    close = [form for form in possible if spans[form.format] <= shortest + 3]
    if len(close) == 1 and min(value for name, value in spans.items() if name != close[0].format) > 25:
        return close, f"the shots then lie within {shortest + 1} days, and not over {max(spans.values()) + 1}"
    ordered = [
        form for form in possible if form.known == sorted(form.known) or form.known == sorted(form.known, reverse=True)
    ]
    if len(ordered) == 1 and len(days[ordered[0].format]) > 2:
        return ordered, "the lines are then in the order of time"
    return possible, ""
