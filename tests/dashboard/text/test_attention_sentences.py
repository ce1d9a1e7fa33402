"""What needs attention is told in words from a kind and its numbers; so is what set-up went with."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from made_numbers import ANGLE

import warehouse
from dashboard.text import attention, attention_sentences, setup_sentences
from warehouse.schema.attention_mart import KINDS


def number(metric: str, club_group: str) -> str:
    """Return a number's name."""
    return f"{club_group} {metric.replace('_', ' ')}"


def row(kind: str, **given: Any) -> dict[str, Any]:
    """Return a row of query attention."""
    empty = dict.fromkeys(("club_group", "since", "counted", "amount", "reason"))
    return {"kind": kind, "shown_as": "Rod", "metric": "", **empty, **given}


def test_every_kind_that_the_table_may_hold_has_its_words() -> None:
    assert set(attention.ATTENTION) == set(KINDS)


def test_no_sentence_on_attention_is_made_in_sql() -> None:
    files = sorted((Path(warehouse.__file__).parent / "models" / "mart").glob("*attention.sql"))
    assert len(files) == 4
    assert [path.name for path in files if re.search(r"format\(|\|\|", path.read_text(encoding="utf-8"))] == []


TOLD = (
    (row("bay drifts", shown_as="B2", counted=2, since=date(2031, 3, 3)),
     "3 March 2031 · **Bay drifts**: Bay B2 drifts in 2 of its numbers; have its device checked."),
    (row("bay clock is off", shown_as="B2", amount=-181.4),
     "**Bay clock is off**: The clock of bay B2 seems 181 seconds behind the lesson book; set it, or enter it in "
     "academy.toml."),
    (row("bay is silent", shown_as="B2", counted=3),
     "**Bay is silent**: Bay B2 sent nothing on 3 of the last 7 nights on which it was expected."),
    (row("drill was stopped", metric="pain", counted=1),
     "**Drill was stopped**: Rod was stopped 1 time for pain; look into it before it is used again."),
    (row("drill goes the wrong way", metric="club_speed", club_group="driver", amount=7.25),
     "**Drill goes the wrong way**: Rod moves driver club speed the wrong way and is still used 7 times a week."),
    (row("drill has a side effect", metric="mishit_share", reason="mishits rose by 8%."),
     "**Drill has a side effect**: Rod: Mishits rose by 8%."),
    (row("evidence is thin", metric="club_path", club_group="iron", reason="14 of 20 episodes"),
     "**Evidence is thin**: Rod on iron club path: too early to tell. 14 of 20 episodes."),
    (row("student slides", metric="attack_angle", club_group="driver", counted=6, amount=0.3),
     "**Student slides**: The goal number, driver attack angle, got worse by more than day-to-day differences explain, "
     "two weeks running (listed 6; luck alone would list at most about 1)."),
)  # fmt: skip


@pytest.mark.parametrize(("given", "told"), TOLD, ids=[given["kind"] for given, _ in TOLD])
def test_a_kind_and_its_numbers_make_one_sentence(given: dict[str, Any], told: str) -> None:
    assert attention_sentences.attention(given, number) == told


@pytest.mark.parametrize(("listed", "by_luck"), [(1, 1), (20, 1), (21, 2), (60, 3)])
def test_a_list_says_how_many_of_it_luck_may_have_put_there(listed: int, by_luck: int) -> None:
    assert attention_sentences.luck(listed) == f"at most about {by_luck}"


ASSOCIATION = {
    "measure": "stance width", "unit": "cm", "club_group": "driver", "students": 12, "pairs": 24, "typical_change": 5.0,
    "slope": 0.1, "slope_low": 0.02, "slope_high": 0.18, "finding": "goes with",
}  # fmt: skip


def test_an_association_is_told_by_a_typical_change_and_as_no_cause() -> None:
    assert setup_sentences.line(ASSOCIATION, ANGLE) == (
        "Stance width (driver), 5 cm more: attack angle +0.5° (95% 0.1 to 0.9), 12 students, 24 pairs; goes with it, "
        "false discoveries controlled. It went with it; that is no cause."
    )


def test_too_few_pairs_are_told_without_a_number() -> None:
    few = {**ASSOCIATION, "finding": "too few", "pairs": 6, "students": 1}
    assert "+" not in setup_sentences.line(few, ANGLE)
    assert setup_sentences.lead([few], "Driver attack angle") == attention.SETUP_EMPTY
