"""Carry on the pages: a cohort's season, where carry came from, deliveries read on demand."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

import pytest
from test_pages import opened, text_of

from dashboard.shell import query_cache
from dashboard.shell.number_format import Shown
from dashboard.text import carry as words_carry
from dashboard.text import carry_sentences, words
from dashboard.text.drill_sentences import number_name

CARRY = Shown("carry", "carry", "yd", 0.9144, 0, 4.572, "up")
SPEED = Shown("ball_speed", "ball speed", "mph", 0.44704, 1, 0.9, "up")


def stretch(at: date, difference: float) -> dict:
    """Return a row of query cohort_carry."""
    carry, standard = 0.9144 * 210, 0.9144 * (210 - difference)
    return {
        "starts_on": at, "students": 20, "shots": 900, "carry": carry, "carry_low": carry - 3.6576,
        "carry_high": carry + 3.6576, "standard_carry": standard, "standard_carry_low": standard - 3.6576,
        "standard_carry_high": standard + 3.6576, "difference": 0.9144 * difference,
        "difference_low": 0.9144 * (difference - 1), "difference_high": 0.9144 * (difference + 1),
    }  # fmt: skip


def test_a_season_says_what_the_launches_carry_and_that_the_rest_is_not_coaching() -> None:
    first, last = stretch(date(2031, 3, 1), 0), stretch(date(2031, 6, 1), 5)
    assert carry_sentences.season("Spring", "driver", first, last, CARRY, "month") == (
        "Spring, driver, June 2031: carry 210 yd as measured (95% 206 to 214), 205 yd for the same launches on "
        "standard air (95% 201 to 209). Measured less standard is +5 yd (95% 4 to 6), against 0 yd (95% −1 to 1) in "
        "March 2031: that part is air, balls, bays and the model's own error, not coaching."
    )
    weekly = carry_sentences.season("Spring", "driver", first, last, CARRY, "week")
    assert "in the week of 1 March 2031: that part" in weekly
    assert "outside the flight model's measured range" in carry_sentences.season(
        "Spring", "iron", first, last, CARRY, "month"
    ).replace("Outside", "outside")


def test_a_shortfall_with_irons_is_marked_and_with_a_driver_it_is_not() -> None:
    gap = Shown("carry_gap", "carry shortfall", "yd", 0.9144, 0, 4.572, None)
    assert number_name(gap, "iron") == "carry shortfall with irons (outside the flight model's measured range)"
    assert number_name(gap, "driver") == "driver carry shortfall"
    assert number_name(CARRY, "iron") == "carry with irons"


def test_speed_or_delivery_is_a_number_for_one_episode_and_for_many() -> None:
    one = {
        "club_group": "driver", "carry_change": 9.144, "from_club_speed": 0.9144, "from_delivery": 7.3152,
        "remainder": 0.9144,
    }  # fmt: skip
    ends = {"carry_change": (4.572, 13.716), "from_delivery": (3.6576, 10.9728), "from_club_speed": (-0.9144, 2.7432)}
    many = one | {
        f"{name}_{end}": at for name, both in ends.items() for end, at in zip(("low", "high"), both, strict=True)
    }
    assert carry_sentences.speed_or_delivery(one, CARRY, "3 March 2031: High tee") == (
        "3 March 2031: High tee, driver: carry changed by +10 yd, of which +1 yd from club speed and +8 yd from strike "
        "and delivery; +1 yd the model does not explain."
    )
    assert carry_sentences.speed_or_delivery(many, CARRY, "high tee") == (
        "High tee, driver: carry changed by +10 yd (95% 5 to 15), of which +1 yd (95% −1 to 3) from club speed and "
        "+8 yd (95% 4 to 12) from strike and delivery; +1 yd the model does not explain."
    )


def test_a_block_is_named_by_its_place_among_the_drills() -> None:
    row = {
        "night": date(2031, 3, 3), "begins_at": datetime(2031, 3, 3, 10, 5), "club": "driver", "segment": 0,
        "drills": 1, "after_drill": None, "shots": 12,
    }  # fmt: skip
    assert carry_sentences.block(row) == "3 March 2031 10:05, driver, before any drill, 12 shots"
    assert "after High tee" in carry_sentences.block(row | {"segment": 1, "after_drill": "High tee"})
    assert "first part" in carry_sentences.block(row | {"drills": 0})


def test_a_ball_is_named_by_its_number_and_what_it_did() -> None:
    row = {
        "struck_at_local": datetime(2031, 3, 3, 10, 5, 9), "ball_speed": 67.056, "carry": None, "phase": "drill",
        "mishit": True,
    }  # fmt: skip
    assert carry_sentences.shot(7, row, SPEED, CARRY) == (
        "ball 7, 10:05:09, 150.0 mph ball speed, during a drill, mishit"
    )


def test_the_cohorts_page_shows_carry_on_standard_air_and_where_it_came_from(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = opened(home, "cohorts", monkeypatch, cohort="Spring")
    text = text_of(app)
    assert not app.exception
    assert "Measured less standard is" in text
    assert "A warm June is not coaching" in text
    assert "Spring, driver: carry changed by +6.6 yd (95% 4.9 to 8.2), of which +0.4 yd (95% −1.2 to 2.1) from" in text
    assert "Free practice, driver: carry changed by" in text
    assert words_carry.MODEL_NOTE in text
    monthly = text_of(opened(home, "cohorts", monkeypatch, cohort="Spring", period="month"))
    assert "April 2031: carry" in monthly


def test_the_drill_page_shows_where_the_carry_came_from(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = opened(home, "drill", monkeypatch, drill="R1")
    text = text_of(app)
    assert not app.exception
    assert words_carry.SOURCES_OF_DRILL in text
    assert "Rod behind the ball, driver: carry changed by" in text
    assert words_carry.AS_IT_LOOKS in text
    assert words_carry.MODEL_NOTE in text


def test_the_students_page_reads_the_latest_session_a_block_or_one_ball(
    home: Path, published: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    latest = opened(home, "students", monkeypatch, student="S001", number="driver.attack_angle")
    assert words.SECTIONS["reading"] in text_of(latest)
    assert "Attack angle of 0.4° costs about 6 yd of carry." in text_of(latest)
    assert words_carry.MODEL_NOTE in text_of(latest)
    block = opened(home, "students", monkeypatch, student="S001", number="driver.attack_angle", balls="L001-0~0~driver")
    assert not block.exception
    assert "of carry at this club speed" in text_of(block)
    assert "Could not tell" in text_of(block)
    (options,) = (box.options for box in block.selectbox if box.label == words_carry.READ_SHOT)
    assert options[0] == words_carry.WHOLE_BLOCK
    assert options[1].startswith("ball 1, ")
    shots = query_cache.ask(published, "block_shots", session_id="L001-0", club="driver")
    path, line = shots.select("path", "line").row(0)
    ball = opened(
        home, "students", monkeypatch, student="S001", number="driver.attack_angle", balls="L001-0~0~driver",
        ball=f"{path}~{line}",
    )  # fmt: skip
    assert not ball.exception
    assert "of carry at this club speed" in text_of(ball)
    assert text_of(ball) != text_of(block)


def test_the_line_of_carry_is_at_the_speed_asked_for_and_ends_with_the_table(published: str) -> None:
    # The made table holds 5 v + 2.2 a at 38, 42 and 46 m/s.
    for asked, at in ((41.0, 41.0), (42.0, 42.0), (20.0, 38.0), (60.0, 46.0)):
        line = query_cache.ask(published, "carry_by_attack", club_speed=asked)
        assert line["club_speed"].to_list() == pytest.approx([at] * 11)
        assert line["carry"].to_list() == pytest.approx([5 * at + 2.2 * angle for angle in range(-5, 6)])
