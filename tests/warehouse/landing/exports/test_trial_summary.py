"""Many files tried by a profile, in one summary: what loads, what is lost, who and what nobody knows."""

from __future__ import annotations

import datetime as dt

import pytest

from tests.warehouse.landing.conftest import HEADER, Academy, shot
from warehouse.landing.exports import try_at_home
from warehouse.landing.exports.trial_summary import UnknownName


def tried(academy: Academy, *lines: str, profile: str = "plain", name: str = "01.csv", **more):
    """Return the summary of one file tried by a profile of this home."""
    path = academy.landing.parent / name
    path.write_text(HEADER + "".join(lines), encoding="utf-8")
    home = academy.landing.parent
    return try_at_home.try_at_home(academy.landing / "profiles" / f"{profile}.toml", [path], home, **more).summary


def test_all_rows_that_load_end_with_0_and_spans_are_in_the_readers_units(academy: Academy) -> None:
    done = tried(academy, *(shot(n, ball=60 + n, carry=180 + n) for n in range(9)))
    spans = {span.name: span for span in done.spans}
    assert (done.outcome, done.read, done.loaded) == (0, 9, 9)
    assert (spans["ball speed"].unit, round(spans["ball speed"].median, 3)) == ("mph", round(64 / 0.44704, 3))
    assert round(spans["carry"].greatest * 0.9144, 9) == 188


def test_shots_dated_1900_or_in_the_future_never_would_load(academy: Academy) -> None:
    old = shot(1).replace("2024-02-19", "1900-01-01")
    ahead = shot(2).replace("2024-02-19", f"{dt.date.today().year + 2}-02-19")
    some = tried(academy, old, ahead, shot(3))
    assert (some.outcome, some.loaded, sum(some.lost.values())) == (3, 1, 2)
    assert any("before 2000" in reason for reason in some.lost)
    assert tried(academy, old, ahead).outcome == 2


def test_names_nobody_knows_stand_once_each_with_counts_and_the_nearest_spelling(academy: Academy) -> None:
    lines = (
        [shot(n, club="irn-7") for n in range(3)] + [shot(n + 9).replace("007", "0O7") for n in range(2)] + [shot(20)]
    )
    done = tried(academy, *lines)
    assert done.unknown == [UnknownName("club", "irn-7", 3, "iron-7"), UnknownName("player", "0O7", 2, "007")]
    assert (done.outcome, done.lost["unknown club"]) == (3, 3)


def test_a_unit_that_makes_shots_no_golfer_hits_ends_with_2(academy: Academy) -> None:
    named = 'club_speed = { from = "carry", unit = "m/s" }\n'
    academy.profile(
        "swapped", academy_profile().replace('carry = { from = "carry", unit = "m", optional = true }\n', named)
    )
    done = tried(academy, *(shot(n, ball=33, carry=60) for n in range(9)), profile="swapped")
    assert done.outcome == 2
    assert "smash factor" in done.wrong[0]


def academy_profile() -> str:
    """Return the plain profile's text."""
    from tests.warehouse.landing.conftest import PLAIN

    return PLAIN


def test_rows_are_held_to_a_night_and_to_a_bays_clock_where_they_are_named(academy: Academy) -> None:
    assert tried(academy, shot(1), night=dt.date(2024, 2, 18)).outcome == 2
    assert tried(academy, shot(1), bay="01", night=dt.date(2024, 2, 19)).outcome == 0
    with pytest.raises(ValueError, match="'99' is no bay"):
        tried(academy, shot(1), bay="99")


def test_hours_at_which_no_bay_is_open_are_told(academy: Academy) -> None:
    done = tried(academy, shot(-8 * 3600), shot(1))
    assert done.outcome == 0
    assert "between midnight and 5" in done.warnings[0]
