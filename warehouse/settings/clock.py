"""What day it is where the academy is, and which nights an export may be of.

A folder's name is typed by somebody: a night of the year 2199 would be the latest night of every table, and one of the
year 1 the first of a million partitions. Not here: which files there are (landing).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from warehouse.settings.settings import Settings

ONE_DAY = dt.timedelta(days=1)


def today(settings: Settings) -> dt.date:
    """Return the date where the academy is."""
    return dt.datetime.now(ZoneInfo(settings.academy.timezone)).date()


@dataclass(frozen=True)
class NightRange:
    """The nights whose exports are read, both ends among them."""

    first: dt.date = dt.date.min
    last: dt.date = dt.date.max

    def __contains__(self, night: dt.date) -> bool:
        """Return whether exports of a night are read."""
        return self.first <= night <= self.last

    def fault(self, night: dt.date) -> str | None:
        """Return why exports of a night are not read, and what to do; None where they are."""
        if night in self:
            return None
        if night > self.last:
            return (
                f"the night {night} is later than tomorrow, so nothing of it is read: name the folder by the date on "
                "which the balls were hit, and look at the clock of the bay and of this machine"
            )
        return (
            f"the night {night} is before {self.first.year}, so nothing of it is read: name the folder by the date on "
            "which the balls were hit, or set limits.first_year in academy.toml"
        )


EVERY_NIGHT = NightRange()


def nights_read(settings: Settings) -> NightRange:
    """Return the nights whose exports are read: from the year set through tomorrow, by the academy's clock."""
    return NightRange(dt.date(settings.limits.first_year, 1, 1), today(settings) + ONE_DAY)


def age_in_words(through: dt.date | None, now: dt.date) -> str:
    """Return how old the data are, in whole days since the end of their last night; empty up to a day."""
    days = (now - through).days - 1 if through else 0
    if days < 1:
        return ""
    return f"Data are {days:,} day{'s' if days > 1 else ''} old."
