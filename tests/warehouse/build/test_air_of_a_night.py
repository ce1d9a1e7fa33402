"""What an export says of the air, from the file to the shot's model carry, through a whole night."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from CoolProp.HumidAirProp import HAPropsSI

from tests.brought_in import bring_in
from warehouse.audit import audit
from warehouse.connection import private
from warehouse.domain.flight.trajectory import fly
from warehouse.home import Home
from warehouse.settings.settings import Bay, Settings

REFERENCE = {
    "sites": "site_id,name,timezone,altitude_m\nN,North,Europe/Lisbon,1000\n",
    "bays": "bay_id,site_id,export_profile,setting,ball\nB1,N,warm,outdoor,premium\nB2,N,warm,indoor,premium\n",
    "coaches": "coach_id,name\nC1,A Coach\n",
    "students": "student_id,name,handed,joined_on,consent\n007,A Student,right,2023-01-01,yes\n",
    "drills": "drill_id,name,aim_metric,aim_direction,aim_target,club_group\nD1,Rod,club_path,toward,0,any\n",
    "lessons": "lesson_id,student_id,coach_id,bay_id,starts_at,ends_at\n",
    "drill_log": "lesson_id,drill_id,starts_at,ends_at,chosen_by\n",
}
PROFILE = """
[columns]
struck_at = { from = "time" }
club = { from = "club" }
ball_speed = { from = "ball", unit = "m/s" }
launch_angle = { from = "launch", unit = "deg" }
spin_rate = { from = "spin", unit = "rpm" }
spin_axis = { from = "axis", unit = "deg" }
"""
AIR = """
air_temperature = { from = "temp", unit = "degF", optional = true }
air_pressure = { from = "press", unit = "mmHg", optional = true }
air_humidity = { from = "humid", unit = "%", optional = true }
"""
FIELDS = ("time", "club", "ball", "launch", "spin", "axis", "temp", "press", "humid")
SHOTS = (("95", "676", "60"), ("", "", ""))
"""Temperature, pressure and humidity of each shot: 35 degC, 901.3 hPa, 60%; then none."""


def write(path: Path, text: str) -> None:
    """Write a file and its folders."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """A site at 1000 m with an outdoor and an indoor bay, a driver shot on a hot day and one of unknown air in each."""
    for name, text in REFERENCE.items():
        write(tmp_path / "landing" / "academy" / f"{name}.csv", text)
    write(tmp_path / "landing" / "profiles" / "warm.toml", PROFILE + AIR)
    for bay in ("B1", "B2"):
        path = tmp_path / "landing" / "shots" / "2024-02-19" / f"{bay}.csv"
        write(path, "")
        with path.open("w", newline="", encoding="utf-8") as file:
            rows = csv.writer(file)
            rows.writerow(FIELDS)
            for second, air in enumerate(SHOTS):
                rows.writerow((f"2024-02-19T10:00:0{second}", "driver", 65, 12, 2600, 0, *air))
    return Home(tmp_path)


def night(home: Home, settings: Settings | None = None) -> list[tuple]:
    """Run a night as far as core; return bay, line, density, carry and standard carry of each shot."""
    settings = settings or Settings()
    with private(home) as connection:
        bring_in(connection, home, settings)
        return connection.execute(
            "select bay_id, line, air_density, model_carry, standard_carry from core.shot order by bay_id, line"
        ).fetchall()


def test_a_hot_day_outdoors_is_flown_in_its_own_air_and_all_else_in_standard_air_at_altitude(home: Home) -> None:
    given = ("T", 308.15, "P", 90126.0, "R", 0.60)
    humid = (1 + HAPropsSI("W", *given)) / HAPropsSI("V", *given)  # kg/m^3, CoolProp
    shots = night(home)
    assert [shot[:2] for shot in shots] == [("B1", 2), ("B1", 3), ("B2", 2), ("B2", 3)]
    hot, *others = [shot[2] for shot in shots]
    assert hot == pytest.approx(humid, rel=5e-4)
    assert others == pytest.approx([1.1117] * 3, abs=1e-4)  # ISO 2533 at 1000 m; the second bay is indoors
    launch = {"ball_speed": 65, "launch_angle": 12, "spin_rate": 2600}
    for _, _, density, carry, standard in shots:
        assert carry == pytest.approx(float(fly(**launch, air_density=density).carry))
        assert standard == pytest.approx(float(fly(**launch, air_density=1.225).carry))


@pytest.mark.parametrize(("pressure", "warned"), [("676", []), ("705", []), ("767", [("B1",)])])
def test_a_pressure_reduced_to_sea_level_at_a_high_site_is_warned_of(home: Home, pressure: str, warned: list) -> None:
    path = home.landing / "shots" / "2024-02-19" / "B1.csv"
    path.write_text(path.read_text().replace("676", pressure), encoding="utf-8")
    night(home)
    (check,) = [check for check in audit.checks() if check.name == "pressure of sea level"]
    with private(home) as connection:
        connection.execute("create or replace table stage.night as select distinct night from core.shot")
        assert connection.execute(check.sql).fetchall() == warned


def test_air_set_for_a_bay_is_taken_and_builds_its_nights_again(home: Home) -> None:
    before = night(home)
    after = night(home, Settings(bays={"B2": Bay(air_density=1.225)}))
    assert after[:2] == before[:2]
    assert [shot[2] for shot in after[2:]] == [1.225, 1.225]
    assert [shot[3] for shot in after[2:]] == [shot[4] for shot in after[2:]]


def test_a_home_made_before_the_air_was_read_goes_on_and_reads_it_once_its_profile_names_it(home: Home) -> None:
    profile = home.landing / "profiles" / "warm.toml"
    write(profile, PROFILE)
    plain = night(home)
    with private(home) as connection:
        for name in ("air_temperature", "air_pressure", "air_humidity"):
            connection.execute(f"alter table raw.shot drop column {name}")
    assert night(home) == plain
    assert {shot[2] for shot in plain} == {plain[0][2]}
    write(profile, PROFILE + AIR)
    told = night(home)
    assert told[0][2] < plain[0][2]
    assert told[1:] == plain[1:]
