"""What went wrong is said in the run's words, by the command that lists what is missing, and on pages; nothing is lost.

One home: a bay with lessons that falls silent, a bay whose file says nothing that can be read, and a file taken back.
"""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import pytest
from typer.testing import CliRunner

from dashboard.text import night_sentences
from pipelines.care import doctor_databases
from pipelines.command_line import app
from pipelines.runs import one_machine
from pipelines.runs.one_machine import Outcome
from tests.pipelines.nights.test_small_academies import PROFILE, TABLES, ask, every_minute, export, write
from warehouse.audit import silence
from warehouse.home import Home
from warehouse.settings.clock import age_in_words

NIGHTS = ("2026-03-02", "2026-03-03")
SILENT = ("2026-03-04", "2026-03-05", "2026-03-06")


def lessons() -> str:
    """Return a lesson a day in bay 01, three days longer than files came."""
    head = "lesson_id,student_id,coach_id,bay_id,starts_at,ends_at\n"
    return head + "".join(f"L{day},007,,01,{day}T10:00:00,{day}T11:00:00\n" for day in (*NIGHTS, *SILENT))


@pytest.fixture(scope="module")
def gone_silent(tmp_path_factory: pytest.TempPathFactory) -> tuple[Home, one_machine.Night]:
    """A home after its night: two nights of bay 01, a file of bay 02 with other dates, three nights of nothing."""
    from tests.pipelines.nights.conftest import events_in_memory

    made = Home(tmp_path_factory.mktemp("silent") / "home")
    for name, text in {**TABLES, "lessons": lessons(), "bays": TABLES["bays"] + "02,N,plain,indoor,range\n"}.items():
        write(made.landing / "academy" / f"{name}.csv", text)
    write(made.landing / "profiles" / "plain.toml", PROFILE)
    for night in NIGHTS:
        export(made, *every_minute(datetime.fromisoformat(f"{night}T10:00:00"), 30))
    other = (made.landing / "shots" / NIGHTS[1] / "01.csv").read_text().replace(f"{NIGHTS[1]}T", "03/03/2026 ")
    write(made.landing / "shots" / NIGHTS[1] / "02.csv", other)
    with events_in_memory():
        return made, one_machine.run(made)


def test_nights_with_lessons_and_no_file_are_in_the_runs_words_and_on_the_pages(
    gone_silent: tuple[Home, one_machine.Night],
) -> None:
    home, night = gone_silent
    assert night.outcome is Outcome.PUBLISHED_WITH_WARNINGS
    assert night.message.startswith("published through 2026-03-03; nothing arrived for 3 nights with lessons since "
                                    "(2026-03-04 to 2026-03-06)")  # fmt: skip
    states = "select night::varchar, bay_id, state from mart.bay_night where state in ('silent', 'refused') order by 1"
    assert ask(home, states) == [(NIGHTS[1], "02", "refused"), *((day, "01", "silent") for day in SILENT)]
    assert any("such as 01 on 2026-03-04, 2026-03-05, 2026-03-06" in warning for warning in night.warnings)


def test_a_file_of_which_nothing_would_load_is_refused_and_its_bay_has_not_reported(
    gone_silent: tuple[Home, one_machine.Night],
) -> None:
    home, night = gone_silent
    (reason,) = ask(home, "select reason from ops.export_file where status = 'refused'")[0]
    assert reason.startswith("none of its 30 rows would load: 30 unparsable, such as line 2, struck_at")
    assert any("2026-03-03/02.csv refused: none of its 30 rows" in warning for warning in night.warnings)
    books = "sum(rows_read), sum(rows_loaded + rows_rejected + rows_duplicate + rows_set_aside), sum(rows_loaded)"
    assert ask(home, f"select {books} from ops.export_file") == [(90, 90, 60)]


def test_one_command_says_what_is_missing_and_what_to_do(gone_silent: tuple[Home, one_machine.Night]) -> None:
    home, _ = gone_silent
    told = CliRunner().invoke(app, ["missing", "--home", str(home.path)])
    assert told.exit_code == 3
    first, *silent, summary = told.output.splitlines()
    assert first.startswith("2026-03-03 bay 02: shots/2026-03-03/02.csv refused: none of its 30 rows would load")
    assert [line.partition(":")[0] for line in silent] == [f"{day} bay 01" for day in SILENT]
    assert all("no file, 1 lesson booked: copy its export to landing/shots/" in line for line in silent)
    assert "4 exports are missing or refused" in summary
    well = CliRunner().invoke(app, ["missing", "--home", str(home.path), "--from", NIGHTS[0], "--to", NIGHTS[0]])
    assert (well.exit_code, well.output.split(",")[0]) == (0, "nothing is missing")
    nowhere = CliRunner().invoke(app, ["missing", "--home", str(home.path / "nowhere")])
    assert nowhere.exit_code == 2


def test_a_file_that_lies_there_unread_is_named(gone_silent: tuple[Home, one_machine.Night]) -> None:
    home, _ = gone_silent
    late = home.landing / "shots" / SILENT[0] / "01.csv"
    write(late, "time,club,ball,launch,path\n")
    try:
        lines = silence.examine(home).lines
    finally:
        late.unlink()
        late.parent.rmdir()
    assert any("shots/2026-03-04/01.csv lies there and is not read yet: run `academy nightly" in line for line in lines)


def test_a_file_taken_back_goes_out_of_what_is_published_and_stands_in_the_book(
    gone_silent: tuple[Home, one_machine.Night],
) -> None:
    home, _ = gone_silent
    said = CliRunner().invoke(app, ["withdraw-export", f"{NIGHTS[1]}/01.csv", "--home", str(home.path)])
    assert said.exit_code == 0, said.output
    unknown = CliRunner().invoke(app, ["withdraw-export", "2026-03-09/01.csv", "--home", str(home.path)])
    assert unknown.exit_code == 2
    night = one_machine.run(home)
    assert night.outcome is Outcome.PUBLISHED_WITH_WARNINGS, night.message
    assert ask(home, "select night::varchar, count(*) from core.shot group by all") == [(NIGHTS[0], 30)]
    assert ask(home, "select path, decision from ops.export_decision") == [(f"{NIGHTS[1]}/01.csv", "withdraw")]
    assert any(f"shots/{NIGHTS[1]}/01.csv refused: taken back on" in warning for warning in night.warnings)


@pytest.mark.parametrize(
    ("through", "said"),
    [
        (date(2026, 3, 9), ""), (date(2026, 3, 8), "Data are 1 day old."), (date(2026, 3, 6), "Data are 3 days old."),
        (None, ""),
    ],
)  # fmt: skip
def test_the_age_of_the_data_is_counted_from_the_end_of_their_last_night(through: date | None, said: str) -> None:
    assert age_in_words(through, date(2026, 3, 10)) == said
    assert night_sentences.age({"through_night": through}, date(2026, 3, 10)).startswith(said)


def test_a_home_without_a_publication_says_so(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="nothing is published"):
        silence.examine(Home(tmp_path))


def test_doctor_says_that_exports_are_missing(gone_silent: tuple[Home, one_machine.Night]) -> None:
    home, _ = gone_silent
    what, level, said, remedy = next(found for found in doctor_databases.missing(home))
    assert (what, level) == ("exports", "WARNING")
    assert "missing or refused" in said and "academy missing" in remedy
