"""The academy's time zone is its sites' unless it is set; of several the one in which the night ends last."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from typer.testing import CliRunner

from pipelines.care import doctor
from pipelines.care.doctor import Level
from pipelines.command_line import app
from warehouse.home import Home
from warehouse.settings import settings
from warehouse.settings.site_zones import westernmost, zones_of_sites

MARCH = dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC)


def home_with(folder: Path, *zones: str, toml: str = "") -> Path:
    """Make a home whose sites are in these zones."""
    sites = folder / "landing" / "academy" / "sites.csv"
    sites.parent.mkdir(parents=True, exist_ok=True)
    rows = "".join(f"S{n},Site {n},{zone},0\n" for n, zone in enumerate(zones))
    sites.write_text("\ufeffsite_id,name,timezone,altitude_m\n" + rows, encoding="utf-8")
    if toml:
        (folder / "academy.toml").write_text(toml)
    return folder


def test_a_home_that_sets_no_zone_has_that_of_its_sites(tmp_path: Path) -> None:
    assert settings.load(home_with(tmp_path, "Africa/Nairobi")).academy.timezone == "Africa/Nairobi"
    home = home_with(tmp_path, "Africa/Nairobi", toml="[units]\nsystem = 'metric'\n")
    assert settings.load(home).academy.timezone == "Africa/Nairobi"


def test_a_zone_that_is_set_stands_also_where_it_is_the_default_one(tmp_path: Path) -> None:
    home = home_with(tmp_path, "Africa/Nairobi", toml="[academy]\ntimezone = 'UTC'\n")
    assert settings.load(home).academy.timezone == "UTC"


def test_of_several_zones_the_one_counts_in_which_the_night_ends_last() -> None:
    zones = ["Europe/Lisbon", "America/New_York", "Asia/Tokyo"]
    assert westernmost(zones, MARCH) == "America/New_York"
    assert westernmost(["Europe/Lisbon", "Europe/London"], MARCH) == "Europe/Lisbon"
    assert westernmost([]) is None


def test_sites_that_cannot_be_read_name_no_zone(tmp_path: Path) -> None:
    assert zones_of_sites(tmp_path) == []
    assert zones_of_sites(home_with(tmp_path, "Mars/Olympus", "", "Asia/Tokyo", "Asia/Tokyo")) == ["Asia/Tokyo"]
    (tmp_path / "landing" / "academy" / "sites.csv").write_bytes(b"\xff\x00\x00,\n")
    assert zones_of_sites(tmp_path) == []
    assert settings.load(tmp_path).academy.timezone == "UTC"


@pytest.mark.parametrize(
    ("zones", "toml", "level", "said"),
    [
        (("Europe/Lisbon",), "", Level.OK, "02:30 in Europe/Lisbon"),
        (("America/Los_Angeles",), "[academy]\ntimezone = 'UTC'\n", Level.WARNING, "in America/Los_Angeles, when bays"),
        (("America/Los_Angeles", "America/New_York"), "", Level.OK, "in America/Los_Angeles"),
        ((), "", Level.WARNING, "no site named"),
    ],
)
def test_the_doctor_tells_a_night_that_begins_while_bays_are_open(
    tmp_path: Path, zones: tuple[str, ...], toml: str, level: Level, said: str
) -> None:
    home = home_with(tmp_path, *zones, toml=toml)
    (found,) = doctor.open_at_night(Home(home), settings.load(home))
    assert found.level is level and said in found.said


def test_a_start_asks_for_the_zone_unless_it_is_given(tmp_path: Path) -> None:
    asked = CliRunner().invoke(app, ["start", "--home", str(tmp_path / "a")])
    assert asked.exit_code == 0 and "In which time zone" in asked.stdout
    given = CliRunner().invoke(app, ["start", "--home", str(tmp_path / "b"), "--timezone", "Asia/Tokyo"])
    assert given.exit_code == 0 and "In which time zone" not in given.stdout
    assert settings.load(tmp_path / "b").academy.timezone == "Asia/Tokyo"
    wrong = CliRunner().invoke(app, ["start", "--home", str(tmp_path / "c"), "--timezone", "Mars/Olympus"])
    assert wrong.exit_code == 2 and not (tmp_path / "c").exists()
