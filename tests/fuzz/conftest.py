"""A landing folder with one bay to spoil and two neighbours, emptied again for every case."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import duckdb
import pytest

from warehouse.landing.exports import load as exports
from warehouse.landing.exports.results import LoadSummary
from warehouse.landing.reference import load as reference
from warehouse.schema.raw import TABLES as RAW_TABLES

NIGHT = "2024-02-19"
ROWS = [(f"{NIGHT}T10:00:{second:02}", "007", "driver", 60 + second, 12, 200, 18, 1009, 55) for second in range(6)]
NAMES = ("time", "who", "club", "ball", "launch", "carry", "warm", "press", "damp")
COLUMNS = """
[columns]
struck_at = { from = "time" }
student_id = { from = "who", optional = true }
club = { from = "club" }
ball_speed = { from = "ball", unit = "m/s" }
launch_angle = { from = "launch", unit = "deg" }
carry = { from = "carry", unit = "m", optional = true }
air_temperature = { from = "warm", unit = "degC", optional = true }
air_pressure = { from = "press", unit = "hPa", optional = true }
air_humidity = { from = "damp", unit = "%", optional = true }
"""
TABLES = {
    "sites": "site_id,name,timezone,altitude_m\nN,North,Europe/Lisbon,12\n",
    "bays": "bay_id,site_id,export_profile,setting,ball\n01,N,tried,indoor,range\n02,N,plain,outdoor,premium\n"
    "03,N,plain,indoor,range\n",
    "coaches": "coach_id,name\nC1,A Coach\n",
    "students": "student_id,name,handed,joined_on,consent\n007,A Student,right,2023-01-01,yes\n",
    "drills": "drill_id,name,aim_metric,aim_direction,aim_target,club_group\nD1,Rod,club_path,toward,0,any\n",
    "lessons": "lesson_id,student_id,coach_id,bay_id,starts_at,ends_at\n"
    "L1,007,C1,01,2024-02-19T10:00:00,2024-02-19T11:00:00\n",
    "drill_log": "lesson_id,drill_id,starts_at,ends_at,chosen_by\nL1,D1,2024-02-19T10:20:00,,coach\n",
    "events": "scope,id,on_date,kind,club,note\nbay,01,2024-02-20,device moved,,\n",
    "enrolments": "student_id,cohort,from_date,to_date\n007,Spring,2024-01-01,\n",
    "observations": "student_id,observed_at,measure,value,unit,coach_id\n"
    "007,2024-02-19T10:30:00,stance width,41,cm,C1\n",
}


def csv_bytes(delimiter: str = ",") -> bytes:
    """Return a sound export as text."""
    return "".join(delimiter.join(str(cell) for cell in row) + "\n" for row in [NAMES, *ROWS]).encode()


class Tried:
    """A landing folder and a database; `reset` takes both back to how they were before any export."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.landing = folder, folder / "landing"
        self.con = duckdb.connect()
        self.con.execute("create schema raw")
        exports.create_tables(self.con)
        reference.create_tables(self.con)
        self.tables()
        self.profile("plain", COLUMNS)
        self.profile("tried", COLUMNS)
        reference.load(self.con, self.landing)

    def tables(self) -> None:
        """Write sound reference tables."""
        for name, text in TABLES.items():
            self.write(self.landing / "academy" / f"{name}.csv", text.encode())

    def profile(self, name: str, text: str | bytes) -> None:
        """Write a profile."""
        self.write(self.landing / "profiles" / f"{name}.toml", text.encode() if isinstance(text, str) else text)

    def write(self, path: Path, content: bytes) -> Path:
        """Write a file, its folders made."""
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
        return path

    def shots(self, name: str, content: bytes) -> Path:
        """Write an export of the night."""
        return self.write(self.landing / "shots" / NIGHT / name, content)

    def reset(self) -> None:
        """Remove all exports and what was read from them; two sound neighbours lie there again."""
        shutil.rmtree(self.landing / "shots", ignore_errors=True)
        for table in ("shot", "export_file", "rejected_row"):
            self.con.execute(f"delete from raw.{table}")
        for bay in ("02", "03"):
            # Other minutes than the spoilt bay's: the same shots would be one bay's file in another's place.
            self.shots(f"{bay}.csv", csv_bytes().replace(b"T10:00", b"T10:" + bay.encode()))

    def load(self, **arguments: Any) -> LoadSummary:
        """Read what is new."""
        return exports.load(self.con, self.landing, exports.changed(self.con, self.landing), **arguments)

    def rows(self, query: str) -> list[tuple[Any, ...]]:
        """Return a query's rows."""
        return self.con.execute(query).fetchall()

    def assert_accounted(self) -> None:
        """Every row is loaded, rejected or a duplicate, and each is where the counts say; neighbours are whole."""
        for path, status, read, loaded, rejected, duplicate, aside, shots, faults in self.rows(
            "select path, status, rows_read, rows_loaded, rows_rejected, rows_duplicate, rows_set_aside, "
            "(select count(*) from raw.shot as s where s.path = e.path), "
            "(select count(*) from raw.rejected_row as r where r.path = e.path) from raw.export_file as e"
        ):
            assert read == loaded + rejected + duplicate + aside, path
            assert (shots, faults) == (loaded, rejected), path
            assert loaded == 0 or status == "loaded", path
        neighbours = self.rows(
            "select bay_id, struck_at_local::varchar, student_id, club, ball_speed, carry, air_temperature, "
            "air_pressure, air_humidity from raw.shot where bay_id in ('02', '03') order by all"
        )
        sound = [(row[0].replace("T10:00", " 10:{bay}"), *row[1:4], *row[5:]) for row in ROWS]
        assert neighbours == [(bay, row[0].format(bay=bay), *row[1:]) for bay in ("02", "03") for row in sound]
        assert not self.rows(f"select path, reason from raw.export_file where contains(reason, '{exports.UNFORESEEN}')")
        for table in RAW_TABLES[:3]:
            assert not self.rows(f"select 1 from {table.name} where path is null")


@pytest.fixture(scope="session")
def tried(tmp_path_factory: pytest.TempPathFactory) -> Tried:
    """Return the landing folder that all cases share."""
    return Tried(tmp_path_factory.mktemp("fuzz"))
