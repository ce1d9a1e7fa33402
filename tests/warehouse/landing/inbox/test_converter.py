"""A converter of one's own: what it is given, what it returns, and what is said where it does not."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.warehouse.landing.conftest import Academy

PROFILE = """
[file]
format = "converter"
converter = "twolines"
[columns]
struck_at = { from = "when" }
club = { from = "club", spelling = "any" }
ball_speed = { from = "ball", unit = "mph" }
launch_angle = { from = "launch", unit = "deg" }
[inbox]
bay = { from = "bay" }
"""
CONVERTER = '''
"""Two lines a shot: time and club, then bay, ball speed and launch."""
import datetime as dt


def read_rows(path):
    lines = path.read_text().splitlines()
    for at in range(0, len(lines), 2):
        when, club = lines[at].split(" ")
        bay, ball, launch = lines[at + 1].split()
        yield {"line": at + 1, "when": dt.datetime.fromisoformat(when), "club": club, "bay": bay,
               "ball": float(ball), "launch": launch}
'''
FILE = "2024-02-19T18:01:05 7i\n01 112 17.5\n2024-02-19T18:02:05 driver\n02 150 x\n"


@pytest.fixture
def home(academy: Academy) -> Academy:
    """Return an academy with a make that only a converter can read."""
    academy.profile("plain", PROFILE)
    folder = academy.landing / "inbox" / "plain"
    folder.mkdir(parents=True)
    (folder / "a.raw").write_text(FILE)
    write(academy, CONVERTER)
    return academy


def write(academy: Academy, text: str) -> Path:
    path = academy.landing.parent / "converters" / "twolines.py"
    path.parent.mkdir(exist_ok=True)
    path.write_text(text)
    return path


def test_a_converter_gives_rows_and_the_profile_does_the_rest(home: Academy) -> None:
    home.night()
    assert home.rows("select bay_id, line, club, ball_speed, launch_angle from raw.shot") == [
        ("01", 1, "iron-7", pytest.approx(112 * 0.44704), 17.5)
    ]
    assert home.faults() == [(3, "launch_angle", "x", "unparsable")]


def test_a_converter_that_was_mended_reads_its_files_again(home: Academy) -> None:
    write(home, CONVERTER.replace("read_rows", "read_all"))
    home.night()
    assert home.rows("select reason from raw.export_file") == [
        ("converters/twolines.py has no function read_rows(path)",)
    ]
    write(home, CONVERTER)
    home.night()
    assert home.rows("select count(*) from raw.shot") == [(1,)]


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("def read_rows(path):\n    return 1 / 0\n", "failed on it (ZeroDivisionError: division by zero)"),
        ("def read_rows(path):\n    return ['a']\n", "read_rows has to return one mapping a shot"),
        ("def read_rows(path:\n", "failed on it (SyntaxError"),
    ],
)
def test_a_converter_that_fails_refuses_the_file_in_words(home: Academy, code: str, said: str) -> None:
    write(home, code)
    home.night()
    ((reason,),) = home.rows("select reason from raw.export_file")
    assert said in reason


def test_a_converter_is_never_taken_from_the_landing_folder(home: Academy) -> None:
    path = write(home, CONVERTER)
    for folder in ("profiles", "converters"):
        (home.landing / folder).mkdir(exist_ok=True)
        (home.landing / folder / "twolines.py").write_text(CONVERTER)
    path.unlink()
    home.night()
    assert home.rows("select reason from raw.export_file") == [
        ("there is no converters/twolines.py in the home: put it there",)
    ]
