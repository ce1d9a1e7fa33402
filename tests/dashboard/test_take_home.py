"""The page to take home is one student's, released by the coach, and judges nothing."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from browsing import print_page
from made_notebook import everything, opened, tap, text_of, url

from dashboard.handouts import take_home
from dashboard.shell.home_view import read_home
from dashboard.shell.page_context import Reading
from dashboard.text import notebook as say
from dashboard.text import take_home_sentences, words
from warehouse.notebook import actions
from warehouse.notebook.store import open_store

STUDENT = "S005"


def reading(here: Path) -> Reading:
    """Return a reading of a home."""
    home = read_home(here)
    assert home.published is not None
    return Reading(home, home.published)


def sheet_of(read: Reading, student_id: str, drill_id: str | None = "R1") -> take_home.Sheet:
    """Return a student's sheet."""
    student = read.ask("students").row(by_predicate=pl.col("student_id") == student_id, named=True)
    drills = read.ask("drills")
    drill = drills.row(by_predicate=pl.col("drill_id") == drill_id, named=True) if drill_id else None
    return take_home.make(read, student, drill)


def others(read: Reading, student_id: str) -> list[str]:
    """Return the names and ids of everybody else."""
    rows = read.ask("students").filter(pl.col("student_id") != student_id)
    return [*rows["name"].drop_nulls(), *rows["student_id"]]


def named(text: str, people: list[str]) -> list[str]:
    """Return which of these people a text names."""
    return [one for one in people if re.search(rf"\b{re.escape(one)}\b", text)]


def test_the_page_to_take_home_holds_no_other_students_name_or_id(here: Path) -> None:
    read = reading(here)
    for student_id in ("S000", STUDENT, "S023"):
        text = take_home.render(sheet_of(read, student_id))
        assert not named(text, others(read, student_id))
    assert named("Given1 Family1 and S002", others(read, STUDENT)) == ["Given1 Family1", "S002"]


def test_the_page_shown_alone_names_nobody_else_and_offers_no_other_page(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = opened(here, "take_home", monkeypatch, student=STUDENT)
    assert named(everything(app), others(reading(here), STUDENT))
    tap(app, say.ALONE)
    assert not app.exception
    assert not named(everything(app), others(reading(here), STUDENT))
    assert app.caption[-1].value == take_home_sentences.current(reading(here).publication)  # nothing of runs and files
    assert not app.selectbox
    assert [one.label for one in app.button] == [say.BACK]
    tap(app, say.BACK)
    assert app.selectbox(key="choice-student").value == STUDENT


def test_it_holds_no_verdict_rank_or_promise(here: Path) -> None:
    text = take_home.render(sheet_of(reading(here), STUDENT)).lower()
    for told in (*words.VERDICTS, "expected", "best supported", "certainty", "rank", "cohort", "other students"):
        if told != "unclear":
            assert not re.search(rf"\b{told}\b", text), told


def test_it_can_be_downloaded_only_once_released(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = opened(here, "take_home", monkeypatch, student=STUDENT)
    keys = [one.key for one in app.get("download_button")]
    assert "take-home" not in keys
    assert say.RELEASE_FIRST in text_of(app)
    app.checkbox[0].check().run()
    assert "take-home" in [one.key for one in app.get("download_button")]
    app.selectbox(key="choice-practise").set_value("R2").run()
    assert "take-home" not in [one.key for one in app.get("download_button")]


@pytest.mark.parametrize(
    ("minor", "unknown", "told"),
    [(True, False, say.GUARDIAN), (True, True, say.GUARDIAN_UNKNOWN), (False, False, "")],
)
def test_a_minors_page_goes_to_the_guardian(minor: bool, unknown: bool, told: str, here: Path) -> None:
    read = reading(here)
    student = read.ask("students").row(0, named=True) | {"minor": minor, "age_unknown": unknown}
    sheet = take_home.make(read, student, None)
    assert sheet.guardian == told
    assert (told in take_home.render(sheet)) or not told
    assert bool(told) == ("guardian" in take_home.render(sheet))


CHANGE: dict[str, Any] = {
    "club_group": "driver", "first_centre": -1.2, "latest_centre": 0.4, "change": 1.6, "first_week": date(2031, 3, 3),
    "minimal_detectable_change": 1.1, "beyond": True, "change_beyond_expected": None,
}  # fmt: skip


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({}, "a difference of 1.6°, more than my usual day-to-day difference (1.1°)."),
        (
            {"beyond": False, "minimal_detectable_change": 2.0},
            "a difference of 1.6°, which cannot be told from my usual day-to-day difference (2.0°) yet.",
        ),
        (
            {"beyond": False, "change_beyond_expected": 0.8},
            "a difference of 1.6°; less what practice alone would have given it is +0.8°, which cannot be told from my "
            "usual day-to-day difference (1.1°) yet.",
        ),
        ({"minimal_detectable_change": None}, "how much these sessions differ from day to day is not known yet."),
        ({"latest_centre": None}, say.NO_CHANGE),
    ],
)
def test_a_change_is_told_against_the_students_own_noise(change: dict[str, Any], told: str, here: Path) -> None:
    shown = reading(here).shown("attack_angle", "driver")
    assert take_home_sentences.changed(CHANGE | change, shown).endswith(told)


def test_the_caution_stands_before_the_drill_and_the_goal_is_printed_as_typed(here: Path) -> None:
    store = open_store(url(here))
    actions.set_goal(
        store, student_id=STUDENT, words="<b>Up</b> & away", metric="attack_angle", club_group="driver", target=3.0,
        by="a coach",
    )  # fmt: skip
    store.close()
    text = take_home.render(sheet_of(reading(here), STUDENT))
    assert "&lt;b&gt;Up&lt;/b&gt; &amp; away" in text
    assert text.index("Caution.") < text.index("Rod behind the ball.")
    assert "3.0°" in text


def test_it_needs_nothing_from_elsewhere(here: Path) -> None:
    text = take_home.render(sheet_of(reading(here), STUDENT))
    assert not re.findall(r"(?:src|href)=\"(?!#)[^\"]+\"", text)
    assert "<script" not in text


def test_it_prints_on_one_sheet_even_when_everything_on_it_is_long(here: Path, tmp_path: Path) -> None:
    long = "An object stands near a swinging club, so use a soft and light one only and never a hard one. " * 4
    sheet = sheet_of(reading(here), STUDENT)
    full = take_home.Sheet(
        sheet.name, True, False, "I want my drives to start high. " * 9, [f"Drill {n}: 3 times." for n in range(5)],
        sheet.changed, {"name": "Rod", "setup": long, "caution": long}, sheet.chart, sheet.current,
    )  # fmt: skip
    page, printed = tmp_path / "page.html", tmp_path / "page.pdf"
    page.write_text(take_home.render(full), encoding="utf-8")
    print_page(page, printed)
    assert len(re.findall(rb"/Type\s*/Page(?!s)", printed.read_bytes())) == 1
