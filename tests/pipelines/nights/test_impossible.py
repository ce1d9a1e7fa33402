"""Dates and numbers that cannot be: each is refused by name, and the rest goes on.

One home: a good export of a bay, and beside it what a slip of the hand, a wrong clock or ill will leaves in a folder.
"""

from __future__ import annotations

import json
import shutil
from datetime import date, datetime, timedelta
from pathlib import Path

import duckdb
import pytest

from pipelines.runs import one_machine
from pipelines.runs.one_machine import Outcome
from tests.pipelines.nights.test_small_academies import PROFILE, TABLES, every_minute, export, write
from warehouse.build import fingerprints
from warehouse.home import Home
from warehouse.publishing import manifest
from warehouse.settings.clock import nights_read, today
from warehouse.settings.settings import Settings, SettingsFault, load

GOOD = datetime(2026, 3, 29, 2, 5)
IMPOSSIBLE = ("0001-01-01", "1899-12-31", "2199-06-01", "9999-12-31")
DIGITS = "9" * 5000


def ask(home: Home, sql: str) -> list[tuple]:
    """Ask the published file."""
    with duckdb.connect(home.current.resolve(), read_only=True) as opened:
        return opened.execute(sql).fetchall()


def copy_night(home: Home, night: str) -> None:
    """Put the good night's export into another night's folder, its shots dated there."""
    folder = home.landing / "shots" / GOOD.date().isoformat()
    text = (folder / "01.csv").read_text().replace(GOOD.date().isoformat(), night)
    write(home.landing / "shots" / night / "01.csv", text)


@pytest.fixture(scope="module")
def hurt(tmp_path_factory: pytest.TempPathFactory) -> tuple[Home, one_machine.Night]:
    """A home with a good night, four impossible ones, a minor, an unknown age and a profile with a huge number."""
    from tests.pipelines.nights.conftest import events_in_memory

    made = Home(tmp_path_factory.mktemp("impossible") / "home")
    for name, text in TABLES.items():
        write(made.landing / "academy" / f"{name}.csv", text)
    born = today(Settings()).replace(year=today(Settings()).year - 10, day=1)
    write(
        made.landing / "academy" / "students.csv",
        "student_id,name,handed,joined_on,consent,born_on\n"
        f"007,A Student,left,2023-01-01,yes,{born}\n008,B Student,left,2023-01-01,yes,\n"
        "009,C Student,left,2023-01-01,yes,0190-05-01\n010,D Student,left,2023-01-01,yes,2190-05-01\n",
    )
    write(made.landing / "academy" / "bays.csv", TABLES["bays"] + "02,N,huge,indoor,range\n")
    write(made.landing / "profiles" / "plain.toml", PROFILE)
    write(made.landing / "profiles" / "huge.toml", f"[file]\nskip_rows = {DIGITS}\n" + PROFILE)
    export(made, *every_minute(GOOD, 30))
    shutil.copy(made.landing / "shots" / "2026-03-29" / "01.csv", made.landing / "shots" / "2026-03-29" / "02.csv")
    for night in IMPOSSIBLE:
        copy_night(made, night)
    with events_in_memory():
        return made, one_machine.run(made)


def test_a_night_that_cannot_be_is_refused_by_its_file_and_the_rest_goes_on(
    hurt: tuple[Home, one_machine.Night],
) -> None:
    home, night = hurt
    assert (night.outcome, night.through) == (Outcome.PUBLISHED_WITH_WARNINGS, date(2026, 3, 29))
    assert ask(home, "select night, count(*) from core.shot group by all") == [(date(2026, 3, 29), 30)]
    refused = dict(ask(home, "select path, reason from ops.export_file where status = 'refused'"))
    assert set(refused) == {f"{night}/01.csv" for night in IMPOSSIBLE} | {"2026-03-29/02.csv"}
    for one in IMPOSSIBLE:
        assert one in refused[f"{one}/01.csv"]
        assert any(f"{one}/01.csv" in warning for warning in night.warnings)
    assert "before 2000" in refused["0001-01-01/01.csv"] and "first_year" in refused["0001-01-01/01.csv"]
    assert "later than tomorrow" in refused["9999-12-31/01.csv"]


def test_pages_know_no_night_that_cannot_be(hurt: tuple[Home, one_machine.Night]) -> None:
    home, _ = hurt
    nights = {night for (night,) in ask(home, "select distinct night from mart.bay_night")}
    # A night with a lesson in the book and no file is known as silent; one that nobody can have had is not known.
    assert date(2026, 3, 29) in nights and all(date(2000, 1, 1) <= night <= date.today() for night in nights)


def test_a_number_of_five_thousand_digits_in_a_profile_costs_its_bays_only(
    hurt: tuple[Home, one_machine.Night],
) -> None:
    home, night = hurt
    (reason,) = ask(home, "select reason from ops.export_file where path = '2026-03-29/02.csv'")[0]
    assert "profiles/huge.toml" in reason and "4300 digits" in reason
    assert any("huge.toml" in warning for warning in night.warnings)


def test_no_export_makes_a_minor_an_adult_and_an_unknown_age_is_a_minors(hurt: tuple[Home, one_machine.Night]) -> None:
    home, _ = hurt
    assert ask(home, "select student_id, minor, age_group from mart.student order by all") == [
        ("007", True, "under 18"), ("008", True, None), ("009", True, None), ("010", True, None),
    ]  # fmt: skip


def test_a_night_refused_as_too_late_is_read_once_it_has_come(
    tmp_path: Path, in_memory, monkeypatch: pytest.MonkeyPatch
) -> None:
    home = Home(tmp_path / "home")
    for name, text in TABLES.items():
        write(home.landing / "academy" / f"{name}.csv", text)
    write(home.landing / "profiles" / "plain.toml", PROFILE)
    export(home, *every_minute(GOOD, 30))
    ahead = today(Settings()) + timedelta(days=3)
    copy_night(home, ahead.isoformat())
    assert one_machine.run(home).through == GOOD.date()
    asked = one_machine.run(home, night=ahead)
    assert asked.outcome == Outcome.NOT_PUBLISHED and "later than tomorrow" in asked.message

    from warehouse.settings import clock

    monkeypatch.setattr(clock, "today", lambda settings: ahead)
    assert one_machine.run(home).through == ahead
    assert ask(home, f"select count(*) from core.shot where night = '{ahead}'") == [(30,)]
    # A clock set back, or a home of an earlier version: what was read of such a night goes.
    monkeypatch.undo()
    again = one_machine.run(home)
    assert again.through == GOOD.date()
    assert any("taken out" in warning and str(ahead) in warning for warning in again.warnings)
    assert ask(home, "select distinct night from core.shot") == [(GOOD.date(),)]


def test_nights_are_read_from_the_year_set_through_tomorrow() -> None:
    read = nights_read(Settings.model_validate({"limits": {"first_year": 2010}}))
    assert (read.first, read.last) == (date(2010, 1, 1), today(Settings()) + timedelta(days=1))
    assert read.fault(read.last) is None and read.fault(read.first) is None
    assert "2009-12-31" in (read.fault(date(2009, 12, 31)) or "")


def test_nothing_is_taken_out_where_every_night_can_be() -> None:
    with duckdb.connect() as connection:
        connection.execute("create schema raw")
        connection.execute("create table raw.export_file as select date '2026-01-01' as night, true as in_force")
        assert fingerprints.withdraw(connection, nights_read(Settings())) == []


@pytest.mark.parametrize(
    "text",
    [f"[limits]\nfile_megabytes = {DIGITS}", f"[limits]\nfile_megabytes = 0x{'f' * 9000}", "[matters]\ncarry = nan",
     "[matters]\ncarry = inf", f"x = {'[' * 100_000}", '[academy]\nnightly_at = "29:00"',
     "[episodes]\nmin_block_shots = 9223372036854775808", "[evidence]\nside_effect_warns_from = inf"],
)  # fmt: skip
def test_an_impossible_setting_is_a_fault_in_words(tmp_path: Path, text: str) -> None:
    (tmp_path / "academy.toml").write_text(text)
    with pytest.raises(SettingsFault, match=r"^academy\.toml") as told:
        load(tmp_path)
    assert len(str(told.value)) < 500


def test_a_nights_manifest_counts_the_exports_and_tables_it_was_made_of(hurt: tuple[Home, one_machine.Night]) -> None:
    home, _ = hurt
    good = manifest.good_version(home)
    assert good.path == home.current.resolve() and not good.damaged
    told = json.loads(manifest.manifest_of(home.current.resolve()).read_text())
    assert (told["inputs"]["exports"], told["inputs"]["tables"]) == (1, 11)
