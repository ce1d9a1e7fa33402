"""The log of runs: one line of JSON an event, ids and never names, bounded, and never in a night's way."""

from __future__ import annotations

import csv
import json
import multiprocessing
import subprocess
import sys
from pathlib import Path

import duckdb
import pytest

from pipelines.runs import one_machine, run_log
from tests.pipelines.killed_night import SAMPLE, Undisturbed, night
from warehouse.build.model import models
from warehouse.home import Home

WHOLE = {model.name for model in models().values() if not model.by_night}


def lines(home: Path) -> list[dict]:
    """Return what the home's log says, oldest first."""
    files = sorted((home / "warehouse" / "log").glob("academy.jsonl*"), reverse=True)
    return [json.loads(line) for path in files for line in path.read_text("utf-8").splitlines()]


def names() -> set[str]:
    """Return every name of a person in the sample."""
    found = set()
    for table in ("students", "coaches"):
        with (SAMPLE / "landing" / "academy" / f"{table}.csv").open(encoding="utf-8") as file:
            found |= {row["name"] for row in csv.DictReader(file)}
    return found


@pytest.fixture(scope="module")
def on_stdout(undisturbed: Undisturbed, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[dict], int]:
    """Take the late files in by the command, its log on standard output."""
    import shutil

    home = Path(shutil.copytree(undisturbed.waiting, tmp_path_factory.mktemp("logged") / "home", symlinks=True))
    shutil.rmtree(home / "warehouse" / "log")
    done = subprocess.run(
        [sys.executable, "-m", "pipelines", "nightly", "--home", str(home), "--log", "json"],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    return home, [json.loads(line) for line in done.stdout.splitlines()], done.returncode


def test_a_night_tells_its_beginning_steps_refusals_checks_publication_and_end(on_stdout: tuple) -> None:
    home, told, code = on_stdout
    assert code == 3
    events = [line["event"] for line in told]
    assert (events[0], events[-1]) == ("run begun", "run ended")
    assert {"step done", "check warned", "published"} <= set(events)
    assert events.count("published") == 1
    assert all(line["at"].endswith("+00:00") and line["run"] == told[0]["run"] for line in told)
    steps = {line["step"]: line for line in told if line["event"] == "step done"}
    assert set(steps) == WHOLE | {"reference_tables", "notebook_entries", "exports", "nights"}
    assert all(line["seconds"] >= 0 for line in steps.values())
    assert steps["exports"]["bytes"] > 0 and steps["exports"]["rows_loaded"] > 0
    assert steps["exports"]["files"] == len([path for path in (SAMPLE / "landing_late").rglob("*") if path.is_file()])
    with duckdb.connect((home / "published" / "current.duckdb").resolve(), read_only=True) as opened:
        for table in sorted(WHOLE):
            assert opened.execute(f"select count(*) from {table}").fetchone() == (steps[table]["rows"],), table
        refused = opened.execute("select path from ops.export_file where status = 'refused'").fetchall()
        checks = opened.execute("select table_name, faults from ops.check_result order by all").fetchall()
    warned = [(line["table"], line["faults"]) for line in told if line["event"] == "check warned"]
    assert sorted(warned) == checks
    assert told[-1]["outcome"] == "published with warnings"
    assert (told[-1]["through_night"], told[-1]["level"]) == ("2026-01-11", "warning")
    assert all(line["path"] in {path for (path,) in refused} for line in told if line["event"] == "file refused")


def test_standard_output_and_the_homes_log_say_the_same(on_stdout: tuple) -> None:
    home, told, _ = on_stdout
    assert lines(home) == told


def test_refused_files_are_told_once_with_their_reason(undisturbed: Undisturbed) -> None:
    first = [line for line in lines(undisturbed.waiting) if line["event"] == "file refused"]
    assert {line["path"] for line in first} == {"2026-01-05/03.csv.gz", "2026-01-08/01.csv", "2026-01-09/99.jsonl"}
    assert len(first) == 3
    assert all(line["reason"] for line in first)


def test_no_line_names_a_person(on_stdout: tuple, undisturbed: Undisturbed) -> None:
    assert len(names()) > 15
    for home in (on_stdout[0], undisturbed.waiting):
        text = (home / "warehouse" / "log" / "academy.jsonl").read_text("utf-8")
        assert [name for name in names() if name.casefold() in text.casefold()] == []


def test_a_table_whose_fault_shows_a_name_is_told_without_it(tmp_path: Path) -> None:
    table = tmp_path / "landing" / "academy" / "students.csv"
    table.parent.mkdir(parents=True)
    for path in (SAMPLE / "landing" / "academy").iterdir():
        (table.parent / path.name).write_bytes(path.read_bytes())
    table.write_text("student_id,name,handed,joined_on,consent\n7,Quillon Varndike,Quillon Varndike,2024-01-01,yes\n")
    done = one_machine.run(Home(tmp_path))
    assert "students.csv line 2, handed '(withheld)'" in done.message, "whoever runs it is told which cell is wrong"
    assert "Varndike" not in done.message
    (ended,) = [line for line in lines(tmp_path) if line["event"] == "run ended"]
    assert (ended["outcome"], ended["level"]) == ("not published", "error")
    assert "students.csv line 2, handed '(withheld)'" in ended["why"]
    assert "Varndike" not in run_log.place(Home(tmp_path)).read_text("utf-8")


def test_a_second_run_that_finds_the_home_held_says_so_in_the_log(tmp_path: Path) -> None:
    from warehouse.connection import only_run

    (tmp_path / "landing" / "academy").mkdir(parents=True)
    with only_run(Home(tmp_path)):
        assert one_machine.run(Home(tmp_path)).outcome == 2
    assert [line["event"] for line in lines(tmp_path)] == ["run begun", "run ended"]
    assert "another run is at work" in lines(tmp_path)[-1]["why"]


def test_a_log_that_cannot_be_written_stops_no_night(home: Path) -> None:
    place = home / "warehouse" / "log"
    for path in place.iterdir():
        path.unlink()
    place.rmdir()
    place.write_text("a file where the folder should be")
    done = night(home)
    assert done.outcome in {0, 3}, done.message


def write_many(home: Path, writer: int) -> None:
    """Write two hundred lines as one process of several."""
    run_log.LARGEST = 4000
    with run_log.kept(Home(home), f"writer {writer}"):
        for number in range(200):
            run_log.say("step done", step=f"{writer}-{number}", words="x" * 60)


def test_the_log_is_bounded_and_several_processes_share_it_without_half_a_line(tmp_path: Path) -> None:
    started = multiprocessing.get_context("spawn")
    writers = [started.Process(target=write_many, args=(tmp_path, writer)) for writer in range(3)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
        assert writer.exitcode == 0
    files = list((tmp_path / "warehouse" / "log").glob("academy.jsonl*"))
    assert len(files) == run_log.KEPT + 1
    assert all(path.stat().st_size <= 4000 for path in files)
    told = lines(tmp_path)
    assert len(told) > 50 and len({line["step"] for line in told}) == len(told)


def test_nothing_is_said_where_no_run_is_told_of(tmp_path: Path) -> None:
    run_log.say("step done", step="nobody listens")
    assert not (tmp_path / "warehouse").exists()
