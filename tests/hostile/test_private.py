"""What a home holds is its owner's alone, and whoever is forgotten is gone from every file of it."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.hostile.academy import HIDDEN
from tests.hostile.conftest import HostileNight, run
from tests.hostile.reading import bytes_hold, cells, names_in
from warehouse.home import Home


def test_no_file_and_no_folder_of_the_home_can_be_read_by_group_or_others(hostile_night: HostileNight) -> None:
    home = hostile_night.home.path
    opened = [path for path in (home, *home.rglob("*")) if not path.is_symlink() and path.stat().st_mode & 0o077]
    assert opened == []


@pytest.fixture(scope="module")
def forgotten(hostile_night: HostileNight, tmp_path_factory: pytest.TempPathFactory) -> tuple[Home, str, int]:
    """Forget the student whose name stands everywhere, landing folder too; return what was printed, and the code."""
    home = Home(tmp_path_factory.mktemp("forgotten") / "home")
    shutil.copytree(hostile_night.home.path, home.path, symlinks=True)
    return home, *run(home, "forget", "S0", "--rewrite-landing")


def test_whoever_is_forgotten_is_gone_from_every_database_log_file_name_and_line_of_use(
    forgotten: tuple[Home, str, int],
) -> None:
    home, printed, code = forgotten
    assert code == 0, printed
    who = HIDDEN[:1]
    assert names_in(printed, who) == set()
    assert [path for path in home.path.rglob("*") if names_in(path.name, who)] == []
    for path in (path for path in home.path.rglob("*") if path.is_file() and not path.is_symlink()):
        if path.relative_to(home.path).parts[0] == "landing":
            continue  # words about them in others' rows are named for a person to correct
        assert bytes_hold(path, who) == set(), path
        if path.suffix in {".duckdb", ".sqlite", ".db"}:
            assert [(place, text) for place, text in cells(path) if names_in(text, who)] == []


def test_what_is_held_on_somebody_includes_words_of_others_that_mention_them(
    hostile_night: HostileNight, tmp_path: Path
) -> None:
    printed, code = run(hostile_night.home, "held", "S1", "--out", str(tmp_path / "held"))
    assert code == 0, printed
    held = "\n".join(path.read_text("utf-8") for path in (tmp_path / "held").iterdir())
    assert "hit it like (name)" not in held, "the notebook has the words as they were typed"
    assert "hit it like Jörg Müller" in held
