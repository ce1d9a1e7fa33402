"""Drawing lots: fair, even, hidden beforehand, checkable afterwards; nobody unfit or without agreement is drawn."""

from __future__ import annotations

import hashlib
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from warehouse.domain.trials import randomisation
from warehouse.domain.trials.randomisation import FREE_PRACTICE, Entered, Lot, Lots

LOTS = Lots("T1", ("D01", "D02"))
PLAN = {"trial_id": "T1", "arms": ["D01", "D02"], "metric": "attack_angle"}
SECRET = hashlib.sha256(b"a secret for tests").digest()


def secret_of(number: int) -> bytes:
    return hashlib.sha256(f"seed {number}".encode()).digest()


def run(
    lots: Lots, secret: bytes, count: int, stratum: str = "S1 / nearer", tag: str = ""
) -> list[tuple[Entered, Lot]]:
    out: list[tuple[Entered, Lot]] = []
    for i in range(count):
        entered = Entered(f"entry-{tag}{stratum}-{i}", f"student-{i}", stratum)
        out.append((entered, randomisation.draw(lots, secret, entered, [lot.arm for _, lot in out])))
    return out


def chi_square_p(counts: np.ndarray) -> float:
    from scipy.stats import chisquare

    return float(chisquare(counts).pvalue)


@pytest.mark.parametrize("arms", [("D01", "D02"), ("D01", "D02", FREE_PRACTICE)])
def test_every_place_gives_every_arm_as_often_over_many_secrets(arms: tuple[str, ...]) -> None:
    lots = Lots("T1", arms)
    counts = np.zeros((8, len(arms)))
    for seed in range(1000):
        for place, (_, lot) in enumerate(run(lots, secret_of(seed), 8)):
            counts[place, arms.index(lot.arm)] += 1
    p_values = [chi_square_p(row) for row in counts]
    # Eight places: the smallest p of eight fair ones is under .001 once in 125 such tests; the secrets are fixed.
    assert min(p_values) > 0.001


def test_over_many_entries_under_one_secret_lots_are_as_fair() -> None:
    first = Counter(run(LOTS, SECRET, 1, tag=f"{n}-")[0][1].arm for n in range(4000))
    assert chi_square_p(np.array([first["D01"], first["D02"]])) > 0.001


def test_a_block_of_four_has_its_six_arrangements_alike_often() -> None:
    lots = replace(LOTS, multiples=(2,))
    seen = Counter("".join(lot.arm[-1] for _, lot in run(lots, secret_of(seed), 4)) for seed in range(3000))
    assert len(seen) == 6
    assert chi_square_p(np.array(list(seen.values()))) > 0.001


def test_arms_are_never_further_apart_in_a_stratum_than_the_largest_block_holds() -> None:
    for seed in range(200):
        lead = np.cumsum([1 if lot.arm == "D01" else -1 for _, lot in run(LOTS, secret_of(seed), 40)])
        assert np.abs(lead).max() <= max(LOTS.multiples)


def test_whole_blocks_are_even() -> None:
    drawn = run(LOTS, SECRET, 60)
    last = drawn[-1][1].block
    for block in range(last):
        arms = Counter(lot.arm for _, lot in drawn if lot.block == block)
        assert arms["D01"] == arms["D02"]


def test_the_next_lot_hangs_on_an_entry_that_is_not_made_yet() -> None:
    # Secret, plan and all lots so far are known, and the student: the entry's own number still decides.
    before = ["D01"]
    lots = replace(LOTS, multiples=(3,))
    arms = {randomisation.draw(lots, SECRET, Entered(f"entry {i}", "student 7", "S1"), before).arm for i in range(50)}
    assert arms == {"D01", "D02"}


def test_guessing_by_counting_is_right_only_a_little_more_often_than_a_coin() -> None:
    # Whoever knows all lots so far and bets on the arm behind: blocks of one length would be guessed much more often.
    right = total = 0
    for seed in range(400):
        lead = 0
        for _, lot in run(LOTS, secret_of(seed), 24):
            guess = "D02" if lead > 0 else "D01"
            right, total = right + (lot.arm == guess), total + 1
            lead += 1 if lot.arm == "D01" else -1
    assert right / total < 0.70


def test_the_same_entry_gives_the_same_lot_and_another_secret_other_lots() -> None:
    arms = [[lot.arm for _, lot in run(LOTS, secret, 40)] for secret in (SECRET, SECRET, secret_of(1))]
    assert arms[0] == arms[1] != arms[2]


def test_strata_are_drawn_apart() -> None:
    one, other = ([lot.arm for _, lot in run(LOTS, SECRET, 40, stratum)] for stratum in ("S1 / near", "S2 / near"))
    assert one != other


def test_an_opened_secret_confirms_every_lot() -> None:
    committed = randomisation.commitment(SECRET, PLAN)
    drawn = run(LOTS, SECRET, 25) + run(LOTS, SECRET, 13, "S2 / farther")
    assert randomisation.verify(LOTS, SECRET, PLAN, committed, drawn[::-1]) == []


@pytest.mark.parametrize("place", [0, 3, 11])
def test_a_changed_lot_is_found(place: int) -> None:
    drawn = run(LOTS, SECRET, 12)
    entered, lot = drawn[place]
    drawn[place] = (entered, lot._replace(arm="D02" if lot.arm == "D01" else "D01"))
    faults = randomisation.verify(LOTS, SECRET, PLAN, randomisation.commitment(SECRET, PLAN), drawn)
    assert any(f"place {place + 1} was not drawn so" in fault for fault in faults)


def test_another_plan_or_secret_than_committed_is_found() -> None:
    committed = randomisation.commitment(SECRET, PLAN)
    for secret, plan in ((secret_of(1), PLAN), (SECRET, PLAN | {"metric": "carry"})):
        assert "committed" in randomisation.verify(LOTS, secret, plan, committed, [])[0]


def test_a_commitment_does_not_change_with_the_order_of_the_plan() -> None:
    assert randomisation.commitment(SECRET, dict(reversed(PLAN.items()))) == randomisation.commitment(SECRET, PLAN)


def test_a_short_secret_is_refused() -> None:
    with pytest.raises(ValueError, match="32"):
        randomisation.commitment(b"short", PLAN)


def test_a_person_taken_out_leaves_the_other_blocks_checkable() -> None:
    drawn = run(LOTS, SECRET, 30)
    gone = drawn.pop(4)[1]
    faults = randomisation.verify(LOTS, SECRET, PLAN, randomisation.commitment(SECRET, PLAN), drawn)
    assert faults == [f"{gone.stratum}: place 5 is gone; the rest of its block cannot be checked."]


@pytest.mark.parametrize("place", range(12))
def test_a_lot_kept_without_its_person_is_told_and_every_other_one_of_its_block_is_still_checked(place: int) -> None:
    committed, drawn = randomisation.commitment(SECRET, PLAN), run(LOTS, SECRET, 12)
    gone = [drawn.pop(place)[1]._replace(entry_id="")]
    (told,) = randomisation.verify(LOTS, SECRET, PLAN, committed, drawn, gone)
    assert f"place {place + 1} was drawn for somebody since taken out" in told
    for at, (entered, lot) in enumerate(drawn):
        changed = [*drawn]
        changed[at] = (entered, lot._replace(arm="D02" if lot.arm == "D01" else "D01"))
        faults = randomisation.verify(LOTS, SECRET, PLAN, committed, changed, gone)
        assert any(f"place {lot.place + 1} was not drawn so" in fault for fault in faults)


@pytest.mark.parametrize("change", [{"arm": "D99"}, {"block": 7}])
def test_a_lot_kept_without_its_person_that_cannot_have_been_drawn_is_found(change: dict) -> None:
    drawn = run(LOTS, SECRET, 12)
    gone = [drawn.pop(4)[1]._replace(entry_id="", **change)]
    faults = randomisation.verify(LOTS, SECRET, PLAN, randomisation.commitment(SECRET, PLAN), drawn, gone)
    assert any("place 5 was not drawn so" in fault for fault in faults)


def test_williams_square_of_four_is_the_published_one_and_carries_over_evenly() -> None:
    # Williams 1949: first row A B D C; every treatment follows every other once.
    square = randomisation.orders("ABCD")
    assert square[0] == ("A", "B", "D", "C")
    assert set(randomisation.follows(square).values()) == {1} and len(randomisation.follows(square)) == 12


@pytest.mark.parametrize("number", [2, 3, 5, 6])
def test_orders_hold_each_drill_in_each_place_and_after_each_other_one_as_often(number: int) -> None:
    drills = [f"D{i}" for i in range(number)]
    square = randomisation.orders(drills)
    after = randomisation.follows(square)
    assert len(after) == number * (number - 1) and len(set(after.values())) == 1
    for place in range(number):
        assert set(Counter(row[place] for row in square).values()) == {len(square) // number}


FIT = {"unfit": (), "agreed": True, "minor": False, "guardian_agreed": False, "already": False}


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"unfit": ("D02",)}, "D02"),
        ({"agreed": False}, "not agreed"),
        ({"minor": True}, "guardian"),
        ({"minor": True, "guardian_agreed": True, "agreed": False}, "not agreed"),
        ({"already": True}, "stays the same"),
        ({"consent": False}, "evidence"),
    ],
)
def test_who_is_not_drawn_and_why(change: dict, said: str) -> None:
    assert said in (randomisation.refusal(LOTS.arms, **(FIT | change)) or "")


def test_a_fit_student_who_agreed_and_a_minor_with_both_agreements_may_be_drawn() -> None:
    assert randomisation.refusal(LOTS.arms, **FIT) is None
    assert randomisation.refusal(LOTS.arms, **(FIT | {"minor": True, "guardian_agreed": True})) is None
    assert randomisation.refusal(LOTS.arms, **(FIT | {"unfit": ("D09",)})) is None


def test_the_starting_gap_is_halved_at_the_plans_middle() -> None:
    assert randomisation.stratum_of("S1", randomisation.starting_half(3.0, 2.0)) == "S1 / farther from the aim"
    assert randomisation.starting_half(1.9, 2.0) == "nearer the aim"
