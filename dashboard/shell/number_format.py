"""How a stored number is shown: display unit, decimals, sign, interval.

The facts come from mart.metric; the unit from the metric's declaration and the academy's setting of today, so that a
setting changed since the last publication is followed at once. Not here: sentences (../text/).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import polars as pl

from warehouse.schema.metrics import METRIC

MINUS = "−"


@dataclass(frozen=True)
class Shown:
    """One number's way of being shown.

    Attributes
    ----------
    metric, label
        Its name in the tables, and in words.
    unit
        The display unit; "°" for degrees, empty for a ratio.
    per
        Canonical size of one display unit.
    decimals
        Decimals shown.
    matters_from
        The smallest change that matters, canonical.
    better
        "up", "down", "zero" or None.
    """

    metric: str
    label: str
    unit: str
    per: float
    decimals: int
    matters_from: float
    better: str | None

    @property
    def change_decimals(self) -> int:
        """Return the decimals of a change: enough to tell a tenth of what matters."""
        return max(self.decimals, math.ceil(-math.log10(self.matters_from / self.per / 5)))

    def with_unit(self, text: str) -> str:
        """Return a number's text with its unit."""
        return text if not self.unit else text + ("°" if self.unit == "°" else f" {self.unit}")

    def value(self, number: float | None) -> str:
        """Return a level with its unit: 12.3°, 251 yd."""
        return "not measured" if missing(number) else self.with_unit(digits(number / self.per, self.decimals))

    def size(self, number: float | None) -> str:
        """Return a change's size with its unit, without its sign."""
        if missing(number):
            return "not known"
        return self.with_unit(digits(abs(number) / self.per, self.change_decimals))

    def change(self, number: float | None) -> str:
        """Return a change with sign and unit: +1.4°, −3 yd."""
        if missing(number):
            return "not known"
        text = digits(number / self.per, self.change_decimals)
        return self.with_unit(text if text.startswith(MINUS) or is_zero(text) else f"+{text}")

    def interval(self, low: float | None, high: float | None) -> str:
        """Return the two ends without unit: 0.8 to 2.0."""
        if missing(low) or missing(high):
            return "not known"
        return f"{digits(low / self.per, self.change_decimals)} to {digits(high / self.per, self.change_decimals)}"

    def levels(self, low: float | None, high: float | None) -> str:
        """Return the two ends of a level's interval without unit, with a level's decimals: 158 to 171."""
        if missing(low) or missing(high):
            return "not known"
        return f"{digits(low / self.per, self.decimals)} to {digits(high / self.per, self.decimals)}"

    def surely_above(self, low: float) -> bool:
        """Return whether the low end of a change's interval is above zero as it is printed."""
        return low > 0 and not is_zero(digits(low / self.per, self.change_decimals))

    def matters(self) -> str:
        """Return the smallest change that matters, without needless zeros: 1°, 4.9 yd."""
        return self.with_unit(f"{round(self.matters_from / self.per, self.change_decimals):g}")

    def axis(self, text: str) -> str:
        """Return an axis title with the unit."""
        return f"{text} ({self.unit})" if self.unit else text


SPREAD = Shown("spread", "spread", "%", 0.01, 0, 0.10, "down")
"""A change of log spread, shown as a percentage of the spread (display: exp(x) - 1, near x for small changes)."""


def missing(number: float | None) -> bool:
    """Return whether there is no number."""
    return number is None or math.isnan(number)


def clear(low: float, high: float) -> bool:
    """Return whether an interval lies to one side of zero."""
    return low * high > 0


def digits(number: float, decimals: int) -> str:
    """Return a number with a true minus sign and no negative zero."""
    text = f"{number:,.{decimals}f}"
    if is_zero(text.lstrip("-")):
        text = text.lstrip("-")
    return text.replace("-", MINUS)


def is_zero(text: str) -> bool:
    """Return whether a printed number is zero."""
    return not text.strip("0.,")


def shown(metrics: pl.DataFrame, metric: str, club_group: str, system: str) -> Shown:
    """Return how a metric is shown for a club group.

    Parameters
    ----------
    metrics
        The frame "metrics".
    metric, club_group
        The row; "any" takes the group with the largest smallest change that matters.
    system
        "imperial" or "metric".
    """
    rows = metrics.filter(pl.col("metric") == metric).sort("matters_from", descending=True)
    own = rows.filter(pl.col("club_group") == club_group)
    row = (own if own.height else rows).row(0, named=True)
    unit, per = METRIC[metric].shown_in(system)
    return Shown(metric, row["label"], unit_sign(unit), per, row["decimals"], row["matters_from"], better_of(row, own))


def better_of(row: dict[str, Any], own: pl.DataFrame) -> str | None:
    """Return the better direction; over any club only "zero" holds for all."""
    return row["better"] if own.height or row["better"] == "zero" else None


def unit_sign(unit: str) -> str:
    """Return a unit as it is printed."""
    return {"deg": "°", "ratio": ""}.get(unit, unit)
