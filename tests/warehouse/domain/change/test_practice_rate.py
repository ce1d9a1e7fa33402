"""Practice alone, run by run: planted rates come back, and sessions chosen for looking good do not bend them."""

import numpy as np
import pytest

from warehouse.domain.change import practice_rate

NOISE = 1.0


def sessions(rate: float, chosen: bool, kept: float = 0.0, seed: int = 3, students: int = 80, each: int = 14):
    """Return sorted sessions improving by `rate` a week.

    `chosen`: days that look bad against the student's earlier ones get a drill; `kept`: what a drill leaves behind.
    """
    rng = np.random.default_rng(seed)
    student = np.repeat(np.arange(students), each)
    day = np.tile(np.arange(each) * 7, students)
    level = np.repeat(rng.normal(0, 2, students), each)
    form = rng.normal(0, np.sqrt(NOISE), student.size)
    value = level + rate * day / 7 + form
    drilled = rng.random(student.size) < 0.4
    for i in range(student.size):  # a later session holds what earlier drills left
        first = i - i % each
        if chosen:
            usual = value[first:i].mean() if i > first else 0.0
            drilled[i] = value[i] < usual - 0.3
        if drilled[i]:
            value[i + 1 : first + each] += kept
    return student, day, value, drilled, np.full(student.size, NOISE)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("rate", [0.0, 0.2])
@pytest.mark.parametrize("chosen", [False, True])
def test_a_planted_rate_comes_back_however_drills_are_chosen(rate: float, chosen: bool, seed: int) -> None:
    found = practice_rate.weekly(*sessions(rate, chosen, seed=seed))
    assert abs(found.rate - rate) < 3 * found.error
    assert found.error < 0.05


def test_what_drills_leave_behind_is_not_taken_for_practice() -> None:
    found = practice_rate.weekly(*sessions(0.0, chosen=False, kept=0.5))
    assert abs(found.rate) < 3 * found.error
    assert found.error < 0.05


def test_the_plain_step_after_a_good_day_falls() -> None:
    student, day, value, drilled, noise = sessions(0.0, chosen=True)
    plain = np.diff(value)[(student[1:] == student[:-1]) & ~drilled[:-1]].mean()
    found = practice_rate.weekly(student, day, value, drilled, noise)
    assert plain < -0.3
    assert abs(found.rate) < 0.1 * abs(plain)


def test_sums_begin_anew_with_every_student() -> None:
    found = practice_rate.sums_so_far(np.array([0, 0, 1, 1]), np.array([1.0, 3.0, 9.0, 5.0]))
    np.testing.assert_allclose(found, [1.0, 4.0, 9.0, 14.0])


def test_too_few_students_expect_nothing() -> None:
    assert np.isnan(practice_rate.weekly(*sessions(0.2, chosen=False, students=4)).rate)
