"""Drills placed by the pauses between balls, on lessons drawn here with known begins and ends.

The lessons are drawn from the outside: balls every 38 s or so, an aid put down and taken up in a longer gap. What is
asked is how many balls a cut lies off, counted by the drawing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from warehouse.domain.drill_log.placement import (
    AS_LOGGED,
    END_READ,
    END_UNKNOWN,
    MOVED,
    NOT_LOGGED,
    Lesson,
    Mark,
    place,
)


@dataclass(frozen=True)
class Drawn:
    """A lesson with the numbers of balls before its drill and up to its end; None without one."""

    lesson: Lesson
    begin: int | None
    end: int | None
    logged: bool


def night(rng, lessons=14, off=0.0, pause=(60, 150), no_end=0.0, not_logged=0.0) -> list[Drawn]:
    """Draw a site's lessons of a night; `off` seconds is the error of a mark."""
    out = []
    for _ in range(lessons):
        balls = int(rng.integers(32, 55))
        gap = np.exp(rng.normal(np.log(38), 0.25, balls))
        if rng.random() < 0.3:
            out.append(Drawn(Lesson(np.cumsum(gap)), None, None, False))
            continue
        begin = int(rng.integers(6, 18))
        end = begin + int(rng.integers(8, min(22, balls - begin - 5) + 1))
        if pause:
            gap[begin] += rng.uniform(*pause)
            gap[end] += rng.uniform(*pause)
        struck = np.cumsum(gap)
        down, up = ((struck[at - 1] + struck[at]) / 2 + rng.normal(0, off) for at in (begin, end))
        logged = rng.random() >= not_logged
        up = np.nan if rng.random() < no_end else max(up, down + 60)
        out.append(Drawn(Lesson(struck, [Mark(down, up)] if logged else []), begin, end, logged))
    place([one.lesson for one in out])
    return out


def nights(seed: int, count: int = 25, **how) -> list[Drawn]:
    rng = np.random.default_rng(seed)
    return [one for _ in range(count) for one in night(rng, **how)]


def off_by(drawn: list[Drawn], end: bool, read: bool) -> np.ndarray:
    """Balls between a cut, read or as logged, and where it was drawn."""
    out = []
    for one in drawn:
        if not one.logged or np.isnan(one.lesson.marks[0].end):
            continue
        of = one.lesson.readings[0] if read else one.lesson.marks[0]
        at = np.searchsorted(one.lesson.struck, of.end if end else of.begin)
        out.append(abs(int(at) - (one.end if end else one.begin)))
    return np.array(out)


@pytest.mark.parametrize(("pause", "off"), [((60, 150), 0.01), (None, 0.15)])
def test_marks_tapped_in_the_bay_stay_whether_or_not_anybody_paused(pause, off: float) -> None:
    drawn = nights(1, pause=pause)
    for end in (False, True):
        assert off_by(drawn, end, read=False).max() == 0
        assert off_by(drawn, end, read=True).mean() < off


def test_another_students_turn_in_the_bay_is_no_pause() -> None:
    # Five balls each in turn, 50 s apart: between two turns of one student another hits five.
    own = np.concatenate([turn * 500.0 + np.arange(5) * 50.0 for turn in range(6)])
    waited = np.full(own.size - 1, 50.0)
    mark = Mark(own[7] - 20, own[18] - 20)
    shared, alone = Lesson(own, [mark], waited), Lesson(own, [mark])
    place([shared])
    place([alone])
    assert shared.readings[0].timing == AS_LOGGED
    assert alone.readings[0].timing == MOVED


@pytest.mark.parametrize("end", [False, True])
def test_marks_two_minutes_off_are_moved_to_the_pauses_that_were_drawn(end: bool) -> None:
    drawn = nights(2, off=120.0)
    logged, read = off_by(drawn, end, read=False), off_by(drawn, end, read=True)
    assert logged.mean() > 1.0
    assert read.mean() < logged.mean() / 3
    assert (read == 0).mean() > 0.85


def test_an_end_that_nobody_logged_is_placed_right_or_said_to_be_unknown() -> None:
    missing = [one for one in nights(3, off=60.0, no_end=0.5)
               if one.logged and np.isnan(one.lesson.marks[0].end)]  # fmt: skip
    readings = [one.lesson.readings[0] for one in missing]
    placed = [(one, of) for one, of in zip(missing, readings, strict=True) if of.timing == END_READ]
    assert {of.timing for of in readings} <= {END_READ, END_UNKNOWN}
    assert len(placed) > 0.6 * len(missing)
    right = [abs(int(np.searchsorted(one.lesson.struck, of.end)) - one.end) <= 1 for one, of in placed]
    assert np.mean(right) > 0.95


def test_without_pauses_an_end_that_nobody_logged_is_not_made_up() -> None:
    missing = [one for one in nights(4, pause=None, no_end=0.5) if one.logged and np.isnan(one.lesson.marks[0].end)]
    assert np.mean([one.lesson.readings[0].timing == END_UNKNOWN for one in missing]) > 0.9


def test_lessons_with_a_drill_that_nobody_logged_are_found_and_others_left_alone() -> None:
    drawn = nights(5, count=40, not_logged=0.2, pause=(90, 180))
    unlogged = [one for one in drawn if one.begin is not None and not one.logged]
    free = [one for one in drawn if one.begin is None]
    assert np.mean([bool(one.lesson.readings) for one in unlogged]) > 0.5
    assert np.mean([bool(one.lesson.readings) for one in free]) < 0.03
    assert {of.timing for one in unlogged + free for of in one.lesson.readings} == {NOT_LOGGED}


def test_a_second_drill_never_begins_before_the_first_has_ended() -> None:
    rng = np.random.default_rng(6)
    for _ in range(60):
        struck = np.cumsum(np.exp(rng.normal(np.log(38), 0.4, 60)))
        marks = sorted(rng.uniform(struck[3], struck[-3], 4))
        lesson = Lesson(struck, [Mark(marks[0], marks[1]), Mark(marks[2], marks[3])])
        place([lesson])
        first, second = lesson.readings
        assert first.begin <= first.end
        assert np.searchsorted(struck, first.end) <= np.searchsorted(struck, second.begin)


def test_what_balls_are_on_the_clock_does_not_matter() -> None:
    drawn = nights(7, count=3, off=120.0)
    for one in (one for one in drawn if one.logged):
        before = one.lesson.readings[0]
        assert before.timing in (AS_LOGGED, MOVED)
        assert 0 <= before.doubt <= 1
    lessons = [one.lesson for one in drawn]
    later = [Lesson(of.struck + 5000, [Mark(m.begin + 5000, m.end + 5000) for m in of.marks]) for of in lessons[:14]]
    place(later)
    for of, moved in zip(lessons[:14], later, strict=True):
        assert [r.begin + 5000 for r in of.readings] == pytest.approx([r.begin for r in moved.readings])


def test_a_lesson_of_few_balls_stands_as_logged() -> None:
    lesson = Lesson(np.arange(5) * 60.0, [Mark(70.0, np.nan)])
    place([lesson])
    assert (lesson.readings[0].begin, lesson.readings[0].timing) == (70.0, END_UNKNOWN)
