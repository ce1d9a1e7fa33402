"""“Not for this student until …” is obeyed by every list of drills; where it cannot be read nothing is suggested."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest
from made_notebook import STUDENT, enter, entries, in_bay, opened, tap, text_of, widget

from dashboard.text import notebook as words
from warehouse.notebook import actions

pytestmark = pytest.mark.usefixtures("at_ten")


def drills_offered(app: Any) -> set[str]:
    """Return the drills that the notebook offers to begin."""
    suggested = app.pills(key=f"drill-{STUDENT}").options if app.pills else []
    return {*suggested, *app.selectbox(key=f"drill-{STUDENT}-list").options}


@pytest.mark.parametrize(
    ("held", "gone"),
    [
        ({"drill_id": "R1"}, {"Rod behind the ball"}),
        ({"aim_metric": "club_path"}, {"Under the rod"}),
    ],
)
def test_a_hold_removes_the_drill_from_every_list_of_this_student(
    held: dict[str, str], gone: set[str], here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert gone <= drills_offered(in_bay(here, monkeypatch))
    until = date(2031, 5, 4)
    enter(here, actions.hold, student_id=STUDENT, until=until, **held)
    app = in_bay(here, monkeypatch)
    assert not gone & drills_offered(app)
    assert "Not for this student for now: " in text_of(app)
    number = "driver.attack_angle" if "drill_id" in held else "driver.club_path"
    student_page = opened(here, "students", monkeypatch, student=STUDENT, number=number)
    assert not [name for name in gone if f"{name}: expected" in text_of(student_page)]
    home_page = opened(here, "take_home", monkeypatch, student=STUDENT)
    assert not gone & set(home_page.selectbox(key="choice-practise").options)
    other = opened(here, "take_home", monkeypatch, student="S006")
    assert gone <= set(other.selectbox(key="choice-practise").options)


def test_a_hold_that_is_over_holds_no_longer(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    enter(here, actions.hold, student_id=STUDENT, until=date(2031, 4, 14), drill_id="R1")
    assert "Rod behind the ball" in drills_offered(in_bay(here, monkeypatch))


def test_a_hold_is_entered_and_released_on_the_page(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = in_bay(here, monkeypatch)
    widget(app.selectbox, "hold-what-").set_value("drill.R1").run()
    widget(app.button, "hold-").click().run()
    assert entries(here, "hold")["drill_id"].to_list() == ["R1"]
    assert "Rod behind the ball" not in drills_offered(app)
    tap(app, words.RELEASE)
    assert entries(here, "hold").is_empty()
    assert "Rod behind the ball" in drills_offered(app)


def test_holds_that_cannot_be_read_stop_every_suggestion(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (here / "notebook.sqlite").write_bytes(b"no database at all" * 99)
    app = opened(here, "students", monkeypatch, student=STUDENT, number="driver.attack_angle")
    assert words.HOLDS_UNREADABLE in text_of(app)
    assert "Rod behind the ball: expected" not in text_of(app)
