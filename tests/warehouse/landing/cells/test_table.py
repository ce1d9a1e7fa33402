"""Which lines of a file are shots, and what is said outside its table."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from warehouse.landing.cells.outside import Origin
from warehouse.landing.cells.read import Context, read_cells
from warehouse.landing.lines.byte_scan import RefusedError
from warehouse.landing.profile.profile import Profile

COLUMNS = {
    "struck_at": {"from": "time"}, "club": {"from": "club"}, "ball_speed": {"from": "ball", "unit": "m/s"},
    "launch_angle": {"from": "launch", "unit": "deg"}, "student_id": {"from": "who", "optional": True},
}  # fmt: skip
HEAD = "time,club,ball,launch\n"


def lines_of(folder: Path, text: str, **parts: Any) -> list[tuple[int, str | None]]:
    """Return (line, player) of the shots that are found in a text."""
    given = {"file": {"header": "find"}, "columns": COLUMNS, "fields": {"who": {"value": "nobody"}}, **parts}
    path = folder / "x.csv"
    path.write_text(text)
    frame = read_cells(path, False, Profile.model_validate(given), Origin("x.csv"), Context(), "profiles/x.toml").frame
    return list(frame.select("line", "student_id").rows())


def row(second: int = 0, time: str | None = None) -> str:
    """Return one shot's line."""
    return f"{time or f'10:00:{second:02}'},driver,60,12\n"


def test_a_header_is_found_however_many_lines_stand_above_it(tmp_path: Path) -> None:
    for above in range(4):
        assert lines_of(tmp_path, "note\n" * above + HEAD + row()) == [(above + 2, "nobody")]


@pytest.mark.parametrize(
    ("rules", "below", "kept"),
    [
        ({}, row(1) + "\n,,,\n" + row(2), [2, 5]),
        ({"units_rows": 1}, "s,,m/s,deg\n" + row(1), [3]),
        ({"footer_rows": 2}, row(1) + row(2) + "sum\nend\n", [2, 3]),
        ({"end_at": "blank"}, row(1) + "\n" + row(2), [2]),
        ({"end_at": "^Total"}, row(1) + "Total,2\n" + row(2), [2]),
        ({"only_where": {"time": r"^\d"}}, row(1) + "mean,,60,12\n" + row(2), [2, 4]),
        ({"except_where": {"club": "(?i)putter"}}, row(1) + "10:00:03,Putter,2,1\n", [2]),
        ({"summary_without": ["struck_at"]}, row(1) + "Schnitt,,60,12\n,,59,11\n", [2]),
        ({"summary_without": ["struck_at", "ball_speed"]}, row(1) + ",driver,60,12\n,mean,,\n", [2, 3]),
        ({"repeated_header": True}, row(1) + HEAD + row(2), [2, 4]),
    ],
)
def test_lines_that_are_no_shots_are_passed_over_by_rule(
    tmp_path: Path, rules: dict[str, Any], below: str, kept: list[int]
) -> None:
    assert [line for line, _ in lines_of(tmp_path, HEAD + below, rows=rules)] == kept


PLAYER = {"who": {"label": "Player"}}


@pytest.mark.parametrize(
    ("text", "players"),
    [
        ("Player: Ann\n" + HEAD + row(), ["Ann"]),
        ("# player = Ann\n" + HEAD + row(), ["Ann"]),
        ("Player,,Ann,\n" + HEAD + row(), ["Ann"]),
        ('"Player","Roe, Ann"\n' + HEAD + row(), ["Roe, Ann"]),
        ("Player: Roe, Ann\n" + HEAD + row(), ["Roe, Ann"]),
        ("Player: Ann,Date: 1.2.2024\n" + HEAD + row(), ["Ann"]),
        (HEAD + row() + "Player: Ann\n", ["Ann"]),
        ("Player: Ann\n" + HEAD + row() + "\nPlayer: Bo\n" + HEAD + row(), ["Ann", "Bo"]),
        ("Player: Ann\n" + HEAD + row() + "Player,Bo,Date,1.2.2024\n" + row(), ["Ann", "Bo"]),
        (HEAD + row() + "Player: Bo\n" + HEAD + row(), [None, "Bo"]),
        ("Players of the day: 2\nPlayer: Ann\n" + HEAD + row(), ["Ann"]),
    ],
)
def test_a_label_says_a_field_for_the_rows_below_it(tmp_path: Path, text: str, players: list[str | None]) -> None:
    assert [who for _, who in lines_of(tmp_path, text, fields=PLAYER)] == players


@pytest.mark.parametrize(
    ("field", "who"),
    [
        ({"pattern": r"name=(\w+)"}, "Ann"),
        ({"pattern": "Ann|Bo"}, "Ann"),
        ({"cell": "B1"}, "Hall"),
        ({"cell": "A2"}, "name=Ann"),
        ({"value": "x"}, "x"),
        ({"file_name": r"^(\w)\."}, "x"),
        ({"value": "1", "map": {"1": "one"}}, "one"),
        ({"label": "nothing of it", "optional": True}, None),
    ],
)
def test_a_field_is_said_in_one_of_many_places(tmp_path: Path, field: dict[str, Any], who: str | None) -> None:
    assert lines_of(tmp_path, "Room,Hall\nname=Ann\n" + HEAD + row(), fields={"who": field}) == [(4, who)]


def test_a_field_that_is_said_nowhere_refuses_the_file_in_words(tmp_path: Path) -> None:
    with pytest.raises(RefusedError, match=r"nothing says who \(label = 'Player'\)"):
        lines_of(tmp_path, HEAD + row(), fields=PLAYER)


def test_a_shot_that_cannot_be_read_is_no_summary(tmp_path: Path) -> None:
    text = HEAD + '10:0,dri"ver,60,12\n' + 'bro,dri"ver,60,12\n'
    assert [line for line, _ in lines_of(tmp_path, text, rows={"summary_without": ["struck_at"]})] == [2, 3]
