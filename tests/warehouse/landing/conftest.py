"""A small academy in a temporary folder, with one bay whose profile and exports a test writes."""

from __future__ import annotations

import datetime as dt
import os
from pathlib import Path
from typing import Any

import duckdb
import pytest

from warehouse.landing.exports import load
from warehouse.landing.exports.results import LoadSummary
from warehouse.landing.reference import load as reference
from warehouse.settings.settings import Limits

TABLES = {
    "sites": "site_id,name,timezone,altitude_m\nN,North,Europe/Lisbon,12\n",
    "bays": "bay_id,site_id,export_profile,setting,ball\n01,N,plain,indoor,range\n02,N,plain,outdoor,premium\n",
    "coaches": "coach_id,name\nC1,A Coach\n",
    "students": "student_id,name,handed,joined_on,consent\n007,A Student,right,2023-01-01,yes\n",
    "drills": "drill_id,name,aim_metric,aim_direction,aim_target,club_group\nD1,Rod,club_path,toward,0,any\n",
    "lessons": "lesson_id,student_id,coach_id,bay_id,starts_at,ends_at\n"
    "L1,007,C1,01,2024-02-19T10:00:00,2024-02-19T11:00:00\n",
    "drill_log": "lesson_id,drill_id,starts_at,ends_at,chosen_by\nL1,D1,2024-02-19T10:20:00,,coach\n",
}
PLAIN = """
[columns]
struck_at = { from = "time" }
student_id = { from = "who", optional = true }
club = { from = "club" }
ball_speed = { from = "ball", unit = "m/s" }
launch_angle = { from = "launch", unit = "deg" }
carry = { from = "carry", unit = "m", optional = true }
"""
HEADER = "time,who,club,ball,launch,carry\n"
NIGHT = "2024-02-19"
ANY_LOSS = Limits(lost_share=1)
"""For tests about rows, in files so small that most of them are at fault."""


def shot(second: int, ball: object = 60, launch: object = 12, carry: object = 200, club: str = "driver") -> str:
    """Return one plain line, struck so many seconds after ten."""
    moment = dt.datetime(2024, 2, 19, 10) + dt.timedelta(seconds=second)
    return f"{moment.isoformat()},007,{club},{ball},{launch},{carry}\n"


class Academy:
    """A landing folder and a database with raw beside it."""

    def __init__(self, folder: Path) -> None:
        self.landing = folder / "landing"
        self.con = duckdb.connect()
        self.con.execute("create schema raw")
        load.create_tables(self.con)
        for name, text in TABLES.items():
            self.table(name, text)
        self.profile("plain", PLAIN)
        self.clock = 1_700_000_000

    def table(self, name: str, text: str | bytes) -> None:
        """Write a reference table."""
        self._write(self.landing / "academy" / f"{name}.csv", text)

    def profile(self, name: str, text: str) -> None:
        """Write a profile."""
        self._write(self.landing / "profiles" / f"{name}.toml", text)

    def export(self, name: str, content: str | bytes, night: str = NIGHT) -> str:
        """Write an export, each a second later than the last; return its path under landing/shots."""
        path = self.landing / "shots" / night / name
        self._write(path, content)
        self.clock += 1
        os.utime(path, (self.clock, self.clock))
        return f"{night}/{name}"

    def _write(self, path: Path, content: str | bytes) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content.encode() if isinstance(content, str) else content)

    def night(self, **arguments: Any) -> LoadSummary:
        """Load what changed, reference tables first."""
        reference.load(self.con, self.landing)
        arrivals = load.changed(self.con, self.landing, limits=arguments.get("limits"))
        return load.load(self.con, self.landing, arrivals, **arguments)

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        """Return a query's rows."""
        return self.con.execute(query).fetchall()

    def faults(self) -> list[tuple[Any, ...]]:
        """Return (line, column, value, reason) of the rejected rows."""
        return self.rows("select line, column_name, value, reason from raw.rejected_row order by path, line")

    def reason(self, name: str, content: str | bytes) -> str:
        """Return why an export is refused."""
        path = self.export(name, content)
        (outcome,) = [one for one in self.night().outcomes if one.file.path == path]
        assert outcome.status == "refused"
        assert outcome.reason is not None
        assert self.rows("select count(*) from raw.shot") == [(0,)]
        return outcome.reason


@pytest.fixture
def academy(tmp_path: Path) -> Academy:
    """Return a small academy."""
    return Academy(tmp_path)


@pytest.fixture
def new_academy(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Return a maker of small academies, for tests that need one an example."""
    return lambda: Academy(tmp_path_factory.mktemp("academy"))
