"""Invented makes of export, learnt from their files and loaded as a night does: what is asked, what then loads."""

from __future__ import annotations

import pytest

from tests.warehouse.landing.learning.learning_back import learn_back
from tests.warehouse.landing.learning.made_exports import Make, written
from tests.warehouse.landing.learning.made_shots import PEOPLE, draw
from tests.warehouse.landing.learning.makes import BY_NAME, MAKES
from warehouse.landing.learning import propose

ASKED = {
    "larkspur": 0, "drossel": 1, "mesange": 1, "alondra": 1, "civetta": 1, "kievit": 1, "pardal": 2, "trast": 1,
    "konipas": 2, "dudek": 2, "whimbrel": 1, "siskin": 3, "magpie": 6, "hoopoe": 2,
}  # fmt: skip
"""Questions each make may need at most: which way is plus where no cell or header says it, and what is said nowhere."""


@pytest.mark.parametrize("make", MAKES, ids=lambda make: make.name)
def test_a_make_is_learnt_and_every_row_loads_as_it_was_written(make: Make, tmp_path) -> None:
    done = learn_back(make, draw(90, seed=3), tmp_path)
    assert (done.last, done.loaded, done.wrong, done.equal) == (0, 90, {}, 90)
    assert len(done.asked) <= ASKED[make.name]
    assert done.first == (3 if done.asked else 0)


def test_swapped_speeds_are_asked_and_never_taken(tmp_path) -> None:
    done = learn_back(BY_NAME["magpie"], draw(90, seed=3), tmp_path)
    assert {"columns.ball_speed.from", "columns.club_speed.from"} <= set(done.asked)


def test_a_side_that_nothing_tells_is_asked_once_for_all_columns_that_go_together(tmp_path) -> None:
    done = learn_back(BY_NAME["whimbrel"], draw(90, seed=3), tmp_path)
    assert done.asked == ["columns.club_path.positive"]


@pytest.mark.parametrize("name", ["larkspur", "mesange", "alondra"])
def test_a_learnt_profile_holds_nobodys_name(name: str, tmp_path) -> None:
    make = BY_NAME[name]
    files, _ = written(make, draw(40, seed=3), tmp_path / "samples")
    propose.propose(name, files, tmp_path / "home")
    text = (tmp_path / "home" / "landing" / "profiles" / f"{name}.toml").read_text(encoding="utf-8")
    assert [part for person in PEOPLE.values() for part in person.split() if part in text] == []
