"""What one run of a page reads: the home as it was when the run began, and the frames of that version.

Not here: how a page looks (page_parts.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import polars as pl
import streamlit as st

from dashboard.shell import query_cache
from dashboard.shell.home_view import Home
from dashboard.shell.number_format import SPREAD, Shown, shown
from dashboard.text.drill_sentences import first_up, number_name


@dataclass(frozen=True)
class Reading:
    """One published version, read with one setting of units."""

    home: Home
    path: str

    def ask(self, name: str, **parameters: object) -> pl.DataFrame:
        """Return a frame by its query's name."""
        return query_cache.ask(self.path, name, **parameters)

    @cached_property
    def metrics(self) -> pl.DataFrame:
        """The frame "metrics"."""
        return self.ask("metrics")

    @cached_property
    def publication(self) -> dict[str, Any]:
        """The row of the latest publication."""
        return self.ask("publication").row(0, named=True)

    def shown(self, metric: str, club_group: str, measure: str = "centre") -> Shown:
        """Return how a number is shown."""
        if measure == "spread":
            return SPREAD
        return _shown(self.path, metric, club_group, self.home.system)

    def meaning(self, metric: str) -> str:
        """Return what a number is, in a sentence."""
        return str(self.metrics.filter(pl.col("metric") == metric)["description"][0])

    def inner_number(self, metric: str, club_group: str) -> str:
        """Return a number's name with its clubs, as it stands inside a sentence."""
        return number_name(self.shown(metric, club_group), club_group)

    def number(self, metric: str, club_group: str) -> str:
        """Return a number's name with its clubs."""
        return first_up(number_name(self.shown(metric, club_group), club_group))


@lru_cache(maxsize=2000)
def _shown(path: str, metric: str, club_group: str, system: str) -> Shown:
    """Return how a number of a published version is shown: asked for in every line of a page."""
    return shown(query_cache.ask(path, "metrics"), metric, club_group, system)


def begin(home: Home) -> Reading:
    """Keep the reading of this run for the page."""
    assert home.published is not None
    reading = Reading(home, home.published)
    st.session_state["reading"] = reading
    return reading


def current() -> Reading:
    """Return the reading of this run."""
    return st.session_state["reading"]
