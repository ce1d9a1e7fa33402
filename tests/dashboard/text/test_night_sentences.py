"""Each sentence about bays, nights and publications says exactly what its row holds."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from made_numbers import ANGLE

from dashboard.text import night_sentences


def night_row(bay: str, state: str, **changed: Any) -> dict[str, Any]:
    """Return a bay's night."""
    return {
        "bay_id": bay,
        "state": state,
        "late": False,
        "reason": None,
        "shots": 90,
        "rejected": 1,
        "unattributed": 2,
        "lessons": 4,
    } | changed


def test_bays_that_did_not_report_are_named() -> None:
    rows = [
        night_row("B1", "reported"),
        night_row("B2", "silent"),
        night_row("B3", "refused", reason="it is empty"),
        night_row("B4", "reported", late=True),
        night_row("B5", "no lessons"),
    ]
    assert night_sentences.bays(rows) == (
        "2 of 4 bays that should have reported did. Silent: B2. Refused: B3 (it is empty). Late: B4."
    )
    assert night_sentences.bay_night(rows[0]) == "Bay B1: 90 shots, 1 row refused, 2 of no person."
    assert night_sentences.bay_night(rows[1]) == "Bay B2: silent, 4 lessons booked."


def test_a_bays_offset_and_clock_are_told() -> None:
    row = {"bay_id": "B1", "bay_offset": -0.6, "ci_low": -1.0, "ci_high": -0.2, "overlap_students": 9, "drifting": True}
    assert night_sentences.offset(row, ANGLE) == (
        "Bay B1: −0.6° (95% −1.0 to −0.2), 9 students seen elsewhere too; drifting."
    )
    assert night_sentences.clock({"bay_id": "B1", "ahead_seconds": -186.0, "lessons": 12}) == (
        "Bay B1: about 3.1 minutes behind the lesson book, from 12 lessons."
    )


def test_freshness_says_night_and_publication() -> None:
    row = {
        "through_night": date(2031, 4, 13),
        "published_at": datetime(2031, 4, 14, 3, 12),
        "shots": 300123,
        "sessions": 2400,
        "episodes": 1,
    }
    assert night_sentences.freshness(row) == (
        "Through the night of 13 April 2031; published 14 April 2031 03:12 UTC; 300,123 shots, 2,400 sessions, 1 "
        "drill episode."
    )


def test_a_file_published_by_day_says_that_its_evidence_is_older() -> None:
    row = {
        "through_night": date(2031, 4, 14), "published_at": datetime(2031, 4, 14, 15, 12), "shots": 1, "sessions": 1,
        "episodes": 1, "evidence_through": date(2031, 4, 13), "evidence_at": datetime(2031, 4, 14, 3, 12),
    }  # fmt: skip
    assert night_sentences.freshness(row) == (
        "Sessions and blocks through 14 April 2031, published 14 April 2031 15:12 UTC; evidence, changes and bays "
        "through the night of 13 April 2031, renewed at night, in a home of millions of shots at least weekly."
    )


def test_offsets_name_the_furthest_bays_and_those_that_are_not_known() -> None:
    rows = [
        {"bay_id": "B1", "bay_offset": 1.02},
        {"bay_id": "B2", "bay_offset": None},
        {"bay_id": "B3", "bay_offset": -1.68},
    ]
    said = night_sentences.offsets(rows, ["B1", "B2", "B3", "B4"], ANGLE)
    assert said == (
        "Bays add between −1.7° (bay B3) and +1.0° (bay B1); that is taken off before anything is compared. Not known, "
        "for want of the number or of students seen elsewhere too: B2, B4."
    )
    assert "Not known" not in night_sentences.offsets(rows, ["B1", "B3"], ANGLE)


def test_a_file_that_was_not_loaded_is_named_with_its_reason() -> None:
    row = {"path": "2031-04-13/B4.csv", "status": "refused", "reason": "the file is empty: export the night again"}
    assert night_sentences.not_loaded(row) == ("2031-04-13/B4.csv refused: the file is empty: export the night again.")
