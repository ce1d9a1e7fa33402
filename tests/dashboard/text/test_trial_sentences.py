"""Sentences about trials say what their row says, in display units, and never more."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from functools import partial
from typing import Any

import polars as pl
import pytest
from made_numbers import ANGLE

from dashboard.shell.number_format import Shown
from dashboard.text import trial_plan_sentences as plans
from dashboard.text import trial_result_sentences as results
from dashboard.text import trial_sentences as sentences
from dashboard.text import trials as words
from dashboard.trials.listing import Trial
from warehouse.domain.trials.randomisation import FREE_PRACTICE
from warehouse.trials import judgement
from warehouse.trials.plan import Plan

SPEED = Shown("club_speed", "club speed", "mph", 0.44704, 0, 0.89408, "up")
NAMES = {"R1": "Rod", "R2": "High tee", "free practice": "free practice"}
PLAN = Plan(
    trial_id="T1", title="Rod or tee", kind="parallel", horizon="transfer", treatments=("R1", "R2"),
    metric="attack_angle", measure="centre", club_group="driver", better=1.0, matters_from=1.0, students=24, episodes=1,
    weeks=8.0, gap_middle=0.0,
)  # fmt: skip


def trial(state: str, **row: Any) -> Trial:
    """Return a trial in a state."""
    given = {"trial_id": "T1", "begun_on": date(2031, 3, 10), "ended_on": None} | row
    return Trial(given, PLAN, 9, state)


def result(**changes: Any) -> dict[str, Any]:
    """Return a row of RESULT."""
    row = {
        "arm": "R2", "reference": "R1", "analysis": "as drawn", "students": 11, "reference_students": 10, "missing": 3,
        "plain_difference": 1.0, "effect": 1.2, "ci_low": 0.4, "ci_high": 2.0, "p_value": 0.01,
        "randomisation_p": 0.012, "reason": None,
    }  # fmt: skip
    return row | changes


def test_trials_are_counted_by_state_with_how_far_the_running_ones_are() -> None:
    found = [trial("running"), trial("planned"), trial("finished", ended_on=date(2031, 4, 1))]
    said = sentences.trials(found)
    assert said == (
        "1 drill trial runs, 1 is planned, 1 has finished. **Rod or tee**: 9 of 24 students entered."
    )  # fmt: skip
    assert sentences.trials([trial("running")] * 2).startswith("2 drill trials run.")
    assert sentences.trials([trial("finished")] * 3) == "3 drill trials have finished."


def test_a_line_of_the_list_says_state_and_days() -> None:
    line = sentences.line(trial("finished", ended_on=date(2031, 4, 1)), NAMES, ANGLE)
    assert line["when"] == "10 Mar to 1 Apr 2031"
    assert (line["compared"], line["number"], line["entered"]) == ("Rod and High tee", "Driver attack angle", "9 of 24")


def test_a_plan_says_what_is_compared_how_it_is_read_and_what_matters() -> None:
    said = sentences.planned(PLAN, NAMES, ANGLE)
    assert said.startswith("Rod against High tee, one drill for each student; read by driver attack angle")
    assert "What matters: 1° or more." in said


def test_what_a_trial_needs_is_said_in_display_units_and_thin_where_students_lack() -> None:
    needs = {"students": 18, "weeks": 8.8, "candidates": 40}
    assert plans.power(needs, SPEED, 0.7).startswith("**18 students** find a difference of 2 mph")
    assert "about 9 weeks" in plans.power(needs, SPEED, 0.7)
    thin = plans.power(needs | {"weeks": None, "candidates": 10}, SPEED, 0.7)
    assert "about 7 of 10 candidates would take part here, so it would stay thin" in thin
    assert "stay thin" in plans.power(needs | {"candidates": 24}, SPEED, 0.7)  # 17 would take part, 18 are needed
    assert "No number of students" in plans.power(needs | {"students": None}, ANGLE, 0.7)


def test_a_thin_trial_says_what_it_would_not_tell() -> None:
    row = {"students": 10, "power": 0.48, "detectable": 1.47, "half_interval": 1.07, "weeks": None}
    said = plans.thin(row, ANGLE)
    assert "it would tell a difference of 1.5° or more" in said
    assert "found in 48% of such trials only" in said
    assert "would then not mean that the drills do the same" in said
    enough = plans.thin(row | {"power": 0.9}, ANGLE)
    assert "not mean" not in enough
    assert "nothing can be told" in plans.thin(row | {"detectable": None}, ANGLE)


@pytest.mark.parametrize(
    ("effect", "low", "high", "better", "word", "left_open"),
    [
        (1.2, 0.4, 2.0, 1.0, "1.2° better", False),
        (-1.2, -2.0, -0.4, -1.0, "1.2° better", False),
        (-1.2, -2.0, -0.4, 1.0, "1.2° worse", False),
        (0.5, -0.3, 1.3, 1.0, "0.5° better", True),
    ],
)
def test_a_difference_says_which_way_is_better_and_stays_open_where_the_interval_holds_none(
    effect: float, low: float, high: float, better: float, word: str, left_open: bool
) -> None:
    said = results.found(result(effect=effect, ci_low=low, ci_high=high), NAMES, ANGLE, better)
    assert f"**High tee** did {word} than Rod" in said
    assert ("still open" in said) is left_open


def test_a_trial_too_small_says_why_there_is_no_difference() -> None:
    said = results.found(result(effect=None, ci_low=None, reason="4 of 5 students"), NAMES, ANGLE, 1.0)
    assert said == "High tee against Rod: no difference can be given (4 of 5 students)."


def test_luck_is_said_in_trials_of_a_hundred() -> None:
    assert "about 1 of 100 trials" in results.luck(result())
    assert "fewer than 1 of 100 trials" in results.luck(result(randomisation_p=0.0005))
    assert results.luck(result(randomisation_p=None)) == ""


def test_the_flow_is_told_step_by_step_with_typed_reasons_made_plain() -> None:
    rows = [
        {"step": "assessed", "arm": None, "what": None, "students": 3},
        {"step": "not drawn", "arm": None, "what": "No *time*.", "students": 1},
        {"step": "drawn", "arm": None, "what": None, "students": 2},
        {"step": "drawn", "arm": "R1", "what": None, "students": 2},
        {"step": "done", "arm": "R1", "what": "as drawn", "students": 1},
    ]
    assert results.flow(rows, NAMES) == [
        ("Asked", ["3 students"]), ("Not drawn", [r"No \*time\*: 1 student"]),
        ("Drawn", ["2 students", "Rod: 2 students"]), ("Done", ["Rod, as drawn: 1 student"]),
    ]  # fmt: skip


def test_the_flow_is_a_table_with_a_column_for_each_group() -> None:
    rows = [
        {"step": "drawn", "arm": None, "what": None, "students": 5},
        {"step": "drawn", "arm": "R1", "what": None, "students": 3},
        {"step": "drawn", "arm": "R2", "what": None, "students": 2},
        {"step": "done", "arm": "R2", "what": "nothing", "students": 1},
    ]
    assert results.flow_table(rows, NAMES) == [
        {"step": "Drawn", "what": "", "everybody": "5", "Rod": "3", "High tee": "2"},
        {"step": "Done", "what": "nothing", "everybody": "", "Rod": "", "High tee": "1"},
    ]


def test_balance_and_adherence_count_and_do_not_judge() -> None:
    row = {"arm": "R2", "characteristic": "starting_gap", "students": 9, "mean": -0.4, "reference_mean": 0.3,
           "standardised_difference": -0.31}  # fmt: skip
    said = sentences.balance(row, NAMES, ANGLE, "R1")
    assert said == (
        "**High tee** against **Rod**, distance from the aim at entry: −0.4° and +0.3°, 0.31 standard deviations "
        "apart (9 students in the first)."
    )
    assert "too few" in sentences.balance(row | {"standardised_difference": None}, NAMES, ANGLE, "R1")
    arms = [{"drawn": 5, "done_as_drawn": 1, "done_other": 1, "not_done": 3, "missing": 3}] * 2
    assert sentences.adherence(arms) == (
        "Of 10 lots drawn, 2 are done as drawn, 2 with something else, 6 not yet; 6 are without a measurement so far."
    )
    assert sentences.adherence([]) == words.NOBODY_ENTERED


def test_the_next_look_says_the_rule_and_that_more_must_be_in_than_before() -> None:
    said = sentences.next_look(trial("running"), 9, 0.4)
    assert words.RULE_HELP["obrien-fleming"] in said
    assert "The last look was at 40%: the next one needs more than that." in said
    assert "at least five measured students in each group" in sentences.next_look(trial("running"), 9, None)


def test_a_look_says_its_decision_and_no_size() -> None:
    row = {"on_date": date(2031, 4, 1), "arm": "R2", "information": 0.5, "decision": "go on", "effect": 1.234}
    (said,) = sentences.looks([row], NAMES)
    assert said == "1 April 2031, High tee, 50% of the information: Go on: nothing is decided yet."


def test_a_lot_is_said_by_name_and_an_order_in_its_order() -> None:
    assert sentences.lot("R1", NAMES) == "Drawn by lot: **Rod**."
    assert sentences.lot("R2 then R1", NAMES) == "Drawn by lot: **High tee, then Rod**."


def test_a_no_is_kept_in_its_words() -> None:
    row = {"at": datetime(2031, 4, 1, 10), "declined_by": "coach", "instead": "R1", "reason": "Rod <b>broken</b>"}
    assert sentences.declined(row) == (
        "1 April 2031: something else was done, by the coach: “Rod \\<b\\>broken\\</b\\>”"
    )  # fmt: skip


def pair(**changes: Any) -> dict[str, Any]:
    """Return a row of CANDIDATE."""
    row = {
        "drill_id": "R1", "against": "R2", "reason": None, "uses_per_week": 3.2, "chance_better": 0.39, "students": 18,
        "weeks": 8.8, "value": 12.0,
    }  # fmt: skip
    return row | changes


def test_a_pair_says_use_odds_and_size_with_drills_by_name() -> None:
    assert plans.candidate(pair(), NAMES, "driver attack angle") == (
        "**Rod** against **High tee**, for driver attack angle: used 3 times a week; by what is known, High tee is the "
        "better one with a chance of 61%; 18 students would tell, in about 9 weeks."
    )
    held = plans.candidate(pair(reason="R1, R2 is held"), NAMES, "x")
    assert held.endswith("Rod and High tee are held for everybody.")
    assert plans.next_answer([], NAMES, "") == words.NEXT_NONE_OPEN


def test_four_weeks_are_an_expectation_with_an_interval_turned_the_better_way() -> None:
    row = {
        "from_week": 1, "to_week": 2, "drill_id": "R1", "club_group": "driver", "expected_effect": -1.4,
        "interval_low": -2.9, "interval_high": 0.2, "gain": 1.4,
    }  # fmt: skip
    said = plans.week_plan(row | {"gain": 1.4}, "Rod", ANGLE, "nearer the target")
    assert "expected 1.4° nearer the target beyond free practice" in said
    assert "(80% −0.2 to 2.9)" in said
    assert said.endswith("It may also do nothing.")
    assert plans.week_answer([row], NAMES).endswith("An expectation, not a promise.")
    assert plans.week_answer([], NAMES) == words.WEEKS_NONE


def drawn_row(**changes: Any) -> dict[str, Any]:
    """Return a row of RESULT with its errors, twenty students."""
    from scipy.stats import t

    row = result(effect=1.2, standard_error=0.3, standard_error_hc3=0.32, df=18.0, missing=1) | changes
    if row["effect"] is not None:
        reach = float(t.ppf(0.975, row["df"])) * row["standard_error"]
        row |= {"ci_low": row["effect"] - reach, "ci_high": row["effect"] + reach}
    return row


def test_a_trials_verdict_follows_the_houses_rules_and_starts_high() -> None:
    judge = partial(judgement.judged, PLAN, weeks=6.0, drawn={"R1": 12, "R2": 13})
    judged = judge(drawn_row())
    assert (judged.verdict, judged.certainty) == ("helps", "high")
    assert judge(drawn_row(effect=3.0)).verdict == "works"
    assert judge(drawn_row(effect=-1.2)).verdict == "wrong way"
    lost = judge(drawn_row(missing=30))
    assert lost.certainty == "moderate"
    by_luck = judge(drawn_row(randomisation_p=0.2))
    assert by_luck.verdict == "unclear"


def test_a_drill_against_free_balls_says_that_its_own_balls_warm_up_too() -> None:
    row = drawn_row(arm="R2", reference=FREE_PRACTICE)
    judged = judgement.judged(PLAN, row, 6.0, {FREE_PRACTICE: 12, "R2": 13})
    between_drills = judgement.judged(PLAN, drawn_row(), 6.0, {"R1": 12, "R2": 13})
    assert judged.certainty_reason.endswith(judgement.WARMS_UP)
    assert judgement.WARMS_UP not in between_drills.certainty_reason


NONE: dict[str, Any] = {"effect": None, "ci_low": None, "df": None, "reason": "4 of 5 students"}


@pytest.mark.parametrize(
    ("changes", "measured", "needs"),
    [
        ({"students": 5, "reference_students": 5, "df": 7.0}, "5 and 5", "10 measured in each group, 5 and 5 more"),
        ({"students": 4, "reference_students": 9} | NONE, "4 and 9", "10 measured in each group, 6 and 1 more"),
        # What groups and covariates took of the degrees of freedom, 22 - 6.5 here, is needed again: 24 in all.
        ({"students": 12, "reference_students": 10, "df": 6.5}, "12 and 10",
         "12 measured in each group, 0 and 2 more"),
    ],
)  # fmt: skip
def test_too_early_speaks_of_students_drawn_and_of_how_many_more(changes: Any, measured: str, needs: str) -> None:
    found = judgement.judged(PLAN, drawn_row(**changes), 6.0, {"R1": 12, "R2": 13})
    assert found.verdict == "too early"
    drawn = f"13 students drawn to it and 12 to what it is compared with, {measured} of them measured"
    assert found.reason == f"{drawn}; a verdict needs {needs}"


def test_too_early_for_a_crossover_counts_each_student_once() -> None:
    row = drawn_row(students=8, reference_students=8, df=5.0)
    found = judgement.judged(replace(PLAN, kind="crossover", episodes=2), row, 6.0, {"R1": 9, "R2": 9})
    assert found.reason == "9 students drawn, 8 measured with both; a verdict needs 11, 3 more"


def test_looks_on_the_way_widen_the_interval_and_a_look_that_was_too_early_does_not() -> None:
    frame = pl.DataFrame([drawn_row(standard_error=0.3)])
    none = pl.DataFrame(schema={"arm": pl.String, "information": pl.Float64, "decision": pl.String})
    assert judgement.at_all_looks(PLAN, frame, none).equals(frame)
    early = pl.DataFrame({"arm": ["R2"], "information": [0.5], "decision": ["too early to look"]})
    assert judgement.at_all_looks(PLAN, frame, early).equals(frame)
    taken = early.with_columns(decision=pl.lit("go on"))
    wide = judgement.at_all_looks(PLAN, frame, taken).row(0, named=True)
    # Two equal looks, alpha spent by O'Brien and Fleming's form: last limit 1.969 for 1.960 (standard software; from
    # memory); in t with 18 degrees of freedom nearly the same ratio.
    assert (wide["ci_high"] - wide["effect"]) / (frame["ci_high"][0] - frame["effect"][0]) == pytest.approx(
        1.969 / 1.960, abs=0.004
    )


def test_a_verdict_is_said_with_certainty_and_both_reasons() -> None:
    said = results.verdict(judgement.Verdict("works", "a", "high", "b"), ANGLE)
    assert said == "Verdict of this trial: **works: at least 1° better** (a); high certainty (b)."
