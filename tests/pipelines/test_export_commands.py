"""The commands that learn and try exports: what they end with, and that what they write is what a night reads."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from pipelines.cli.exports import exports
from tests.warehouse.landing.learning.learning_back import make_home
from tests.warehouse.landing.learning.made_exports import written
from tests.warehouse.landing.learning.made_shots import draw
from tests.warehouse.landing.learning.makes import BY_NAME
from warehouse.landing.profile import profile


def run(*arguments: object) -> tuple[int, str]:
    """Run a command; return its exit code and what it said."""
    done = CliRunner().invoke(exports, [str(argument) for argument in arguments])
    return done.exit_code, done.output


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An academy whose bay is of a make that says everything, and one file of each of two makes."""
    place = make_home(tmp_path_factory.mktemp("home"), "larkspur")
    for name in ("larkspur", "whimbrel"):
        written(BY_NAME[name], draw(40, seed=5), place / "samples" / name)
    return place


def test_a_make_that_says_everything_is_learnt_with_0_in_some_twenty_lines_and_loads(home: Path) -> None:
    code, said = run("learn-export", "larkspur", home / "samples" / "larkspur", "--home", home)
    assert (code, "40 of 40 rows would load" in said) == (0, True)
    assert len(said.splitlines()) <= 24
    assert profile.read(home / "landing" / "profiles" / "larkspur.toml").columns["carry"].unit == "yd"
    assert run("check-exports", "larkspur", home / "samples" / "larkspur", "--home", home)[0] == 0


def test_what_cannot_be_told_is_a_question_in_the_file_and_answering_it_ends_with_0(home: Path) -> None:
    path, samples = home / "landing" / "profiles" / "whimbrel.toml", home / "samples" / "whimbrel"
    code, said = run("learn-export", "whimbrel", samples, "--home", home)
    text = path.read_text(encoding="utf-8")
    assert (code, "question 1: which way is plus" in said, 'positive = "?"' in text) == (3, True, True)
    assert "club_path" not in profile.read(path).columns
    path.write_text(text.replace('positive = "?"', 'positive = "left"', 1), encoding="utf-8")
    assert run("learn-export", "whimbrel", samples, "--home", home)[0] == 0
    learnt = profile.read(path).columns
    assert {learnt[name].positive for name in ("club_path", "face_angle", "launch_direction", "lateral")} == {"left"}


def test_corrections_by_hand_stay_when_it_is_run_again_and_are_forgotten_only_when_asked(home: Path) -> None:
    path, samples = home / "landing" / "profiles" / "larkspur.toml", home / "samples" / "larkspur"
    run("learn-export", "larkspur", samples, "--home", home)
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('timezone = "site"', 'timezone = "Europe/Oslo"'), encoding="utf-8")
    run("learn-export", "larkspur", samples, "--home", home)
    assert profile.read(path).file.timezone == "Europe/Oslo"
    run("learn-export", "larkspur", samples, "--home", home, "--anew")
    assert profile.read(path).file.timezone == "site"


def test_a_file_without_a_table_ends_with_2_and_says_why(home: Path, tmp_path: Path) -> None:
    (tmp_path / "letter.csv").write_text("Dear members,\nthe range is closed on Monday.\n", encoding="utf-8")
    code, said = run("learn-export", "letter", tmp_path / "letter.csv", "--home", home)
    assert code == 2
    assert "header" in said
    assert not (home / "landing" / "profiles" / "letter.toml").exists()
    assert run("learn-export", "letter", tmp_path / "no such file", "--home", home)[0] == 2
    assert run("learn-export", "../letter", tmp_path / "letter.csv", "--home", home)[0] == 2
