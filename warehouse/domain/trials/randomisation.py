"""Lots drawn so that nobody can know the next one, anybody can check them afterwards, and groups stay even.

How it stays hidden, and why so. A list drawn in advance, sealed or not, is known to whoever holds it. Here there is no
list: a lot is the HMAC-SHA256 under a secret of the trial, the stratum, the place in its block, and the *entry* of the
participant, a random number that the notebook gives only when the participant is written down for good. Before that
moment not even the holder of the secret can compute it. Afterwards everything is fixed: drawing again for the same
entry gives the same lot, and an entry cannot be tried out, since entries are only ever added and a student has one.

Block lengths vary and come from the secret too, so that the last lot of a block cannot be guessed by counting. The
SHA-256 of secret and plan is published when the trial is planned (`commitment`); when it is over the secret is opened
and `verify` draws every lot anew. A secret opened early shows block lengths, still no lots. What it costs: where a
participant's entry was taken out (a person may ask to be forgotten), that lot can no longer be drawn anew. Its place,
block and arm are kept without the person, so that the others of its block can.

Not here: where entries and the secret are kept, agreement to take part, the outcomes.
"""

from __future__ import annotations

import hashlib
import hmac
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, NamedTuple

FREE_PRACTICE = "free practice"
BLOCK_MULTIPLES = (1, 2, 3)
"""A block holds every arm this many times; which, is drawn."""
LEAST_SECRET = 32


@dataclass(frozen=True)
class Lots:
    """A trial's draw: its arms (drills, `FREE_PRACTICE`, or orders joined by `ORDER_MARK`), all alike often."""

    trial_id: str
    arms: tuple[str, ...]
    multiples: tuple[int, ...] = BLOCK_MULTIPLES

    def __post_init__(self) -> None:
        """Refuse a draw that cannot be."""
        if len(self.arms) < 2 or len(set(self.arms)) != len(self.arms):
            raise ValueError("a trial has two different arms or more")
        if not self.multiples or min(self.multiples) < 1:
            raise ValueError("a block holds every arm once or more")


class Entered(NamedTuple):
    """One participant as written down: the entry's own random id, the student, and the stratum."""

    entry_id: str
    student_id: str
    stratum: str


class Lot(NamedTuple):
    """One lot: place in the stratum from 0, its block, and the arm."""

    entry_id: str
    stratum: str
    place: int
    block: int
    arm: str


ORDER_MARK = " then "


def _number(secret: bytes, *words: object) -> int:
    """Return a uniform 256-bit number for these words under the secret; JSON keeps words apart that concatenation would
    mix."""
    said = json.dumps([str(word) for word in words], ensure_ascii=True, separators=(",", ":"))
    return int.from_bytes(hmac.new(secret, said.encode(), hashlib.sha256).digest(), "big")


def commitment(secret: bytes, plan: Mapping[str, Any]) -> str:
    """SHA-256 of secret and plan in hexadecimal: shown at the start, it binds both without telling the secret.

    Raises
    ------
    ValueError
        The secret is shorter than 32 bytes, so that it could be guessed.
    """
    if len(secret) < LEAST_SECRET:
        raise ValueError(f"a secret has {LEAST_SECRET} random bytes at least")
    text = json.dumps(plan, sort_keys=True, ensure_ascii=True, separators=(",", ":"), default=str)
    return hashlib.sha256(b"trial plan\n" + hashlib.sha256(secret).digest() + text.encode()).hexdigest()


def block_of(lots: Lots, secret: bytes, stratum: str, place: int) -> tuple[int, int, int]:
    """Return the block at a place of a stratum, where in it, and how many times it holds every arm."""
    block = start = 0
    while True:
        times = lots.multiples[_number(secret, lots.trial_id, "length", stratum, block) % len(lots.multiples)]
        if place < start + times * len(lots.arms):
            return block, place - start, times
        block, start = block + 1, start + times * len(lots.arms)


def draw(lots: Lots, secret: bytes, entered: Entered, before: Sequence[str]) -> Lot:
    """Draw the lot of one participant.

    Parameters
    ----------
    entered : as written down; its entry_id must have been made by the notebook in that moment, never by a person.
    before : the arms drawn in this stratum so far, in order.

    Notes
    -----
    One of the lots that are left of the block, each alike likely: a permuted block (Matts & Lachin 1988, Control Clin
    Trials 9:327), drawn lot by lot. 2^256 over a handful leaves no bias that could be seen.
    """
    place = len(before)
    block, inside, times = block_of(lots, secret, entered.stratum, place)
    left = [arm for arm in lots.arms for _ in range(times)]
    for arm in before[place - inside :]:
        left.remove(arm)
    at = _number(secret, lots.trial_id, "lot", entered.stratum, place, entered.entry_id, entered.student_id)
    return Lot(entered.entry_id, entered.stratum, place, block, left[at % len(left)])


def verify(
    lots: Lots, secret: bytes, plan: Mapping[str, Any], committed: str, drawn: Sequence[tuple[Entered, Lot]],
    gone: Sequence[Lot] = (),
) -> list[str]:  # fmt: skip
    """Draw everything anew once the secret is open; return what does not agree, in words; empty: all agrees.

    Parameters
    ----------
    drawn : every participant with the lot kept, in any order. Places that are missing are said, and what follows them
        in their block is not checked.
    gone : lots of participants taken out, of which only the person is missing; said, and counted for the others.
    """
    faults = []
    if not hmac.compare_digest(commitment(secret, plan), committed):
        faults.append("The secret or the plan is not the one that was committed to at the start.")
    strata: dict[str, list[tuple[Entered | None, Lot]]] = {}
    for entered, lot in [*drawn, *((None, lot) for lot in gone)]:
        strata.setdefault(lot.stratum, []).append((entered, lot))
    for stratum, theirs in sorted(strata.items()):
        faults += _verify_stratum(lots, secret, stratum, sorted(theirs, key=lambda pair: pair[1].place))
    return faults


def _verify_stratum(lots: Lots, secret: bytes, stratum: str, theirs: list[tuple[Entered | None, Lot]]) -> list[str]:
    faults: list[str] = []
    arms: list[str] = []
    lost_block = -1
    for entered, lot in theirs:
        if lot.place < len(arms):
            faults.append(f"{stratum}: place {lot.place + 1} was drawn twice.")
            continue
        for gone in range(len(arms), lot.place):
            lost_block = block_of(lots, secret, stratum, gone)[0]
            faults.append(f"{stratum}: place {gone + 1} is gone; the rest of its block cannot be checked.")
            arms.append("")
        if entered is None:
            faults.append(f"{stratum}: {_told_gone(lots, secret, lot)}")
        elif block_of(lots, secret, stratum, lot.place)[0] != lost_block:
            again = _again(lots, secret, entered, arms)
            if again is None or (again.arm, again.block, entered.stratum) != (lot.arm, lot.block, lot.stratum):
                faults.append(f"{stratum}: place {lot.place + 1} was not drawn so; the lot was changed.")
        arms.append(lot.arm)
    return faults


def _told_gone(lots: Lots, secret: bytes, lot: Lot) -> str:
    """Say that a lot's participant is gone, and whether what is left of it can have been drawn."""
    if lot.arm not in lots.arms or block_of(lots, secret, lot.stratum, lot.place)[0] != lot.block:
        return f"place {lot.place + 1} was not drawn so; the lot was changed."
    return f"place {lot.place + 1} was drawn for somebody since taken out; it cannot be drawn anew, those after it can."


def _again(lots: Lots, secret: bytes, entered: Entered, before: list[str]) -> Lot | None:
    """Draw again; None where the lots before it in the block could not all have been drawn."""
    try:
        return draw(lots, secret, entered, before)
    except ValueError:
        return None


def starting_half(gap: float, middle: float) -> str:
    """Which half of the candidates a student's starting gap is in; `middle` is fixed in the plan."""
    return "farther from the aim" if gap >= middle else "nearer the aim"


def stratum_of(site_id: str, half: str) -> str:
    """Name the stratum: site and half of the starting gap."""
    return f"{site_id} / {half}"


def orders(drills: Sequence[str]) -> tuple[tuple[str, ...], ...]:
    """Orders of a crossover, to be drawn as arms: each drill in each place, and after each other one, as often.

    Williams 1949 (Aust J Sci Res A 2:149): a square for an even number, a square and its mirror for an odd one.
    """
    n = len(drills)
    if n < 2 or len(set(drills)) != n:
        raise ValueError("a crossover has two different drills or more")
    first = [0]
    for step in range(1, n):
        first.append((step + 1) // 2 if step % 2 else n - step // 2)
    square = [[(place + shift) % n for place in first] for shift in range(n)]
    if n % 2:
        square += [row[::-1] for row in square]
    return tuple(tuple(drills[i] for i in row) for row in square)


def follows(sequences: Sequence[Sequence[str]]) -> dict[tuple[str, str], int]:
    """How often each drill comes straight after each other one over a set of orders."""
    counts: dict[tuple[str, str], int] = {}
    for sequence in sequences:
        for pair in pairwise(sequence):
            counts[pair] = counts.get(pair, 0) + 1
    return counts


def refusal(
    arms: Sequence[str], *, unfit: Sequence[str], agreed: bool, minor: bool, guardian_agreed: bool, already: bool,
    consent: bool = True, outside: str = "",
) -> str | None:  # fmt: skip
    """Why a student is not drawn, in one sentence; None: may be drawn.

    `unfit`: arms held for this student (pain, injury, age, space); one is enough, since a lot that could not be done
    would make the groups differ. `agreed`: their own dated agreement stands; a minor's guardian's too. The coach on
    site decides beyond all this. `outside`: why the trial is not for this student, empty where it is.
    """
    held = [arm for arm in arms if arm in set(unfit)]
    against = (
        (not consent, "The student's data are not used as evidence; leave the student out."),
        (bool(outside) and not already, outside),
        (bool(held), f"Not for this student now: {', '.join(held)}; the coach chooses another way to practise."),
        (already, "The student has a lot already; it stays the same."),
        (not agreed,
         "The student has not agreed to take part, or took it back; ask, without pressing, or choose as usual."),
        (minor and not guardian_agreed, "The student is a minor and no guardian has agreed; ask the guardian first."),
    )  # fmt: skip
    return next((why for stands, why in against if stands), None)
