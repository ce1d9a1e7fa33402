"""A trial's life in the notebook: begun, agreed to, drawn one at a time, declined, ended and checked."""

from __future__ import annotations

import stat
import threading
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime
from functools import partial
from pathlib import Path

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DatabaseError

from warehouse.domain.trials.interim_look import Look
from warehouse.domain.trials.randomisation import FREE_PRACTICE, Lot
from warehouse.erasure.logs import GONE
from warehouse.erasure.notebook import forget_entries
from warehouse.notebook import actions
from warehouse.notebook.reading import read_entries
from warehouse.notebook.store import NotebookRefused, Store, correct, current, history, open_store
from warehouse.trials import book, secret
from warehouse.trials.plan import Plan

DAY = date(2026, 3, 2)
PLAN = Plan(
    trial_id="T1", title="Two drills for attack angle", kind="parallel", horizon="transfer",
    treatments=(FREE_PRACTICE, "D01"), metric="attack_angle", measure="centre", club_group="driver", better=1,
    matters_from=1.0, students=40, episodes=2, weeks=9, gap_middle=2.0,
)  # fmt: skip


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(f"sqlite:///{tmp_path / 'notebook.sqlite'}")
    book.begin(opened, tmp_path, PLAN, begun_on=DAY, by="director")
    yield opened
    opened.close()


def agree(store: Store, student: str, who: str = "student") -> str:
    return book.agree(store, trial_id="T1", student_id=student, agreed_by=who, agreed_on=DAY, by="coach")


def draw(store: Store, home: Path, student: str, **changes: object) -> Lot:
    given = {"site_id": "S1", "starting_gap": 3.0, "minor": False, "consent": True, "on": DAY, "by": "coach"} | changes
    return book.enter_and_draw(store, home, trial_id="T1", student_id=student, **given)  # type: ignore[arg-type]


def drawn(store: Store, home: Path, number: int) -> list[Lot]:
    for i in range(number):
        agree(store, f"s{i}")
    return [draw(store, home, f"s{i}") for i in range(number)]


def test_lots_come_one_at_a_time_stay_even_and_agree_with_the_secret_opened_at_the_end(
    store: Store, tmp_path: Path
) -> None:
    lots = drawn(store, tmp_path, 14)
    assert [lot.place for lot in lots] == list(range(14))
    assert abs(sum(1 if lot.arm == "D01" else -1 for lot in lots)) <= 3
    assert book.lots_so_far(store, "T1")["arm"].to_list() == [lot.arm for lot in lots]
    with pytest.raises(NotebookRefused, match="opened at the end"):
        book.check(store, "T1")
    assert book.end(store, tmp_path, trial_id="T1", on=DAY, by="director") == []
    assert book.trial(store, "T1")[0]["opened_secret"] == secret.read(tmp_path, "T1").hex()


def test_while_it_runs_the_secret_is_in_no_table_and_its_file_is_the_owners_alone(store: Store, tmp_path: Path) -> None:
    drawn(store, tmp_path, 3)
    hidden = secret.read(tmp_path, "T1").hex()
    assert all(hidden not in str(frame.to_dicts()) for frame in read_entries(str(store.engine.url)).values())
    assert stat.S_IMODE((tmp_path / "trials" / "T1.secret").stat().st_mode) == 0o600


def test_a_lot_cannot_be_changed_in_place(store: Store, tmp_path: Path) -> None:
    drawn(store, tmp_path, 1)
    with pytest.raises(DatabaseError, match="never changed"), store.engine.begin() as connection:
        connection.execute(text("update trial_lot set arm = 'D01'"))


def test_not_even_a_correction_can_replace_a_lot(store: Store, tmp_path: Path) -> None:
    drawn(store, tmp_path, 6)
    row = current(store, "trial_lot").row(2, named=True)
    other = "D01" if row["arm"] == FREE_PRACTICE else FREE_PRACTICE
    with pytest.raises(DatabaseError):
        correct(store, "trial_lot", row["entry_id"], "somebody", arm=other)
    assert book.end(store, tmp_path, trial_id="T1", on=DAY, by="director") == []


@pytest.mark.parametrize(("held", "kind"), [("D01", "drill_id"), ("attack_angle", "aim_metric")])
def test_a_student_with_a_hold_is_never_drawn_and_nothing_is_written(
    store: Store, tmp_path: Path, held: str, kind: str
) -> None:
    agree(store, "s1")
    actions.hold(store, student_id="s1", until=date(2026, 4, 1), by="coach", **{kind: held})  # type: ignore[arg-type]
    with pytest.raises(NotebookRefused, match="Not for this student now: D01"):
        draw(store, tmp_path, "s1")
    assert current(store, "trial_participant").is_empty() and current(store, "trial_lot").is_empty()
    assert draw(store, tmp_path, "s1", on=date(2026, 4, 1)).place == 0


def test_without_agreement_or_after_it_was_taken_back_nobody_is_drawn(store: Store, tmp_path: Path) -> None:
    with pytest.raises(NotebookRefused, match="not agreed"):
        draw(store, tmp_path, "s1")
    agree(store, "s1")
    assert book.take_back(store, trial_id="T1", student_id="s1", by="student") == 1
    with pytest.raises(NotebookRefused, match="not agreed"):
        draw(store, tmp_path, "s1")
    assert history(store, "trial_agreement").height == 2


def test_a_minor_needs_the_guardian_and_the_childs_own_agreement(store: Store, tmp_path: Path) -> None:
    agree(store, "s1")
    with pytest.raises(NotebookRefused, match="guardian"):
        draw(store, tmp_path, "s1", minor=True)
    agree(store, "s1", "guardian")
    assert draw(store, tmp_path, "s1", minor=True).place == 0


def test_a_second_entry_of_the_same_student_draws_no_second_lot(store: Store, tmp_path: Path) -> None:
    drawn(store, tmp_path, 1)
    with pytest.raises(NotebookRefused, match="stays the same"):
        draw(store, tmp_path, "s0")
    assert current(store, "trial_lot").height == 1


def test_a_trial_that_is_over_or_not_begun_draws_nobody(store: Store, tmp_path: Path) -> None:
    agree(store, "s1")
    with pytest.raises(NotebookRefused, match="does not run"):
        draw(store, tmp_path, "s1", on=date(2026, 3, 1))
    book.end(store, tmp_path, trial_id="T1", on=DAY, by="director")
    with pytest.raises(NotebookRefused, match="does not run"):
        draw(store, tmp_path, "s1")


def test_two_tablets_at_once_never_draw_the_same_place(store: Store, tmp_path: Path) -> None:
    for i in range(16):
        agree(store, f"s{i}")
    work = [threading.Thread(target=lambda i=i: draw(store, tmp_path, f"s{i}")) for i in range(16)]
    for thread in work:
        thread.start()
    for thread in work:
        thread.join()
    assert sorted(current(store, "trial_lot")["place"]) == list(range(16))
    assert book.end(store, tmp_path, trial_id="T1", on=DAY, by="director") == []


def test_strata_follow_site_and_starting_gap(store: Store, tmp_path: Path) -> None:
    for student in ("a", "b", "c"):
        agree(store, student)
    lots = [
        draw(store, tmp_path, "a"),
        draw(store, tmp_path, "b", starting_gap=1.0),
        draw(store, tmp_path, "c", site_id="S2"),
    ]  # fmt: skip
    assert [lot.place for lot in lots] == [0, 0, 0] and len({lot.stratum for lot in lots}) == 3


def test_what_is_declined_is_kept_with_its_reason(store: Store, tmp_path: Path) -> None:
    drawn(store, tmp_path, 1)
    given = {"trial_id": "T1", "student_id": "s0", "at": datetime(2026, 3, 2, 10), "by": "coach"}
    book.decline(store, declined_by="coach", reason="Too little room in this bay.", instead="D02", **given)  # type: ignore[arg-type]
    assert current(store, "trial_decline")["instead"].to_list() == ["D02"]
    assert current(store, "trial_lot").height == 1
    with pytest.raises(NotebookRefused, match="reason"):
        book.decline(store, declined_by="coach", reason=" ", **given)  # type: ignore[arg-type]


def test_looks_are_kept(store: Store) -> None:
    look = Look("go on", "", None, 0.4, 1.0, 3.0)  # type: ignore[arg-type]
    book.keep_look(store, trial_id="T1", on=DAY, arm="D01", effect=0.4, error=0.3, look=look, by="director")
    assert current(store, "trial_look")["information"].to_list() == [0.4]


def test_a_person_who_is_forgotten_leaves_the_trial_and_the_rest_can_be_checked(store: Store, tmp_path: Path) -> None:
    drawn(store, tmp_path, 12)
    assert forget_entries(str(store.engine.url), "s4", set()) == 3
    faults = book.end(store, tmp_path, trial_id="T1", on=DAY, by="director")
    assert len(faults) == 1 and "place 5 was drawn for somebody since taken out" in faults[0]
    assert book.check(store, "T1") == faults
    assert "s4" not in str([frame.to_dicts() for frame in read_entries(str(store.engine.url)).values()])


def test_after_a_person_was_forgotten_a_running_trial_draws_on_from_the_next_place(
    store: Store, tmp_path: Path
) -> None:
    drawn(store, tmp_path, 5)
    for student in ("s4", "s1"):
        forget_entries(str(store.engine.url), student, set())
    for i in range(5, 13):
        agree(store, f"s{i}")
    later = [draw(store, tmp_path, f"s{i}") for i in range(5, 13)]
    assert [lot.place for lot in later] == list(range(5, 13))
    faults = book.end(store, tmp_path, trial_id="T1", on=DAY, by="director")
    assert [fault.split(" was ")[0] for fault in faults] == ["S1 / farther from the aim: place 2",
                                                             "S1 / farther from the aim: place 5"]  # fmt: skip


def test_a_second_trial_of_the_same_id_and_an_unknown_trial_are_refused(store: Store, tmp_path: Path) -> None:
    with pytest.raises(NotebookRefused, match="already"):
        book.begin(store, tmp_path, PLAN, begun_on=DAY, by="director")
    with pytest.raises(NotebookRefused, match="no trial T9"):
        book.trial(store, "T9")


def test_a_secret_elsewhere_is_said_and_no_path_can_be_smuggled_in(tmp_path: Path) -> None:
    with pytest.raises(secret.SecretMissing, match="not in this home"):
        secret.read(tmp_path, "T1")
    with pytest.raises(ValueError, match="letters"):
        secret.make(tmp_path, "../T1")


def test_a_plan_comes_back_from_its_json_as_it_was() -> None:
    assert Plan.of_json(PLAN.as_json()) == PLAN


@pytest.mark.parametrize(
    "wrong",
    [{"kind": "cluster"}, {"treatments": ("D01",)}, {"metric": "pace"}, {"measure": "spread"}, {"rule": "whenever"},
     {"followed": 0.0}, {"students": 1}],
)  # fmt: skip
def test_a_plan_that_cannot_be_carried_out_is_refused(wrong: dict) -> None:
    with pytest.raises(ValueError):
        replace(PLAN, **wrong)


def test_a_crossover_draws_orders() -> None:
    lots = replace(PLAN, kind="crossover", treatments=("D01", "D02")).lots()
    assert lots.arms == ("D01 then D02", "D02 then D01")


def test_a_trial_stopped_for_harm_keeps_the_kind_and_words_are_blanked_of_who_is_forgotten(
    store: Store, tmp_path: Path
) -> None:
    drawn(store, tmp_path, 2)
    stop = partial(book.end, store, tmp_path, trial_id="T1", on=DAY, by="director")
    for harm, said in ((None, "It hurt s1."), ("", ""), ("sprain", "")):
        with pytest.raises(NotebookRefused, match="say which harm it was: pain, aid struck, rebound, other"):
            stop(harm=harm, harm_words=said)
    assert book.trial(store, "T1")[0]["ended_on"] is None
    assert stop(harm="pain", harm_words=" The wrist of s1, Given Name, hurt. ") == []
    row, _ = book.trial(store, "T1")
    assert (row["harm_kind"], row["harm_words"]) == ("pain", "The wrist of s1, Given Name, hurt.")
    forget_entries(str(store.engine.url), "s1", set(), ["Given Name"])
    row, _ = book.trial(store, "T1")
    assert row["harm_kind"] == "pain" and row["harm_words"] == f"The wrist of {GONE}, {GONE}, hurt."
