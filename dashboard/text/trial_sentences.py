"""Sentences about drill trials, one function each, from the same row that the picture draws; as sentences.py.

Fixed text: words_trials.py. Not here: a trial's result (trial_result_sentences.py).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from dashboard.shell.number_format import Shown, digits, missing
from dashboard.text import trials as words
from dashboard.text.drill_sentences import Row, count, day, first_up, number_name, percent, short_day, short_span
from dashboard.text.notebook_sentences import clock, plain
from dashboard.trials.listing import Trial, arm_name
from warehouse.domain.trials.progress import pace_sentence
from warehouse.trials import eligible
from warehouse.trials.plan import Plan

Names = Mapping[str, str]
IS_ARE = {True: "is", False: "are"}
ONE_MANY = {"running": ("runs", "run"), "planned": ("is planned", "are planned"),
            "finished": ("has finished", "have finished")}  # fmt: skip


def listed(names: Sequence[str], last: str = "and") -> str:
    """Return names in a row: a, b and c."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} {last} {names[-1]}"


def trials(found: Sequence[Trial]) -> str:
    """Say how many trials there are, and how far those that run are."""
    told = []
    for state, (one, many) in ONE_MANY.items():
        here = sum(trial.state == state for trial in found)
        if here:
            told.append(f"{here} {one if here == 1 else many}")
    who = "trial" if int(told[0].split()[0]) == 1 else "trials"
    first, *rest = told
    number, verb = first.split(" ", 1)
    text = ", ".join([f"{number} drill {who} {verb}", *rest]) + "."
    running = [trial for trial in found if trial.state == "running"]
    for trial in running[:2]:
        text += f" **{trial.title}**: {trial.entered} of {count(trial.plan.students, 'student')} entered."
    return text


def line(trial: Trial, names: Names, shown: Shown) -> dict[str, str | int]:
    """Return one line of the list of trials."""
    when = {
        "planned": f"from {short_day(trial.row['begun_on'])}",
        "running": f"since {short_day(trial.row['begun_on'])}",
        "finished": short_span(trial.row["begun_on"], trial.row["ended_on"]),
    }[trial.state]
    return {
        "trial": trial.plan.title,
        "state": words.STATES[trial.state],
        "when": when,
        "entered": f"{trial.entered} of {trial.plan.students}",
        "compared": listed([names.get(one, one) for one in trial.plan.treatments]),
        "number": first_up(number_name(shown, trial.plan.club_group)),
        "open to": open_to(trial.plan) or words.OPEN_TO_ALL,
    }


def planned(plan: Plan, names: Names, shown: Shown) -> str:
    """Say a plan in one sentence."""
    compared = listed([names.get(one, one) for one in plan.treatments], "against")
    number = number_name(shown, plan.club_group)
    what = f"distance from the target of {number}" if plan.measure == "distance" else number
    each = "once" if plan.episodes == 1 else count(plan.episodes, "time")
    return (
        f"{first_up(compared)}, {words.KINDS[plan.kind]}; read by {what}, {words.HORIZONS[plan.horizon]}, "
        f"{each} each; {count(plan.students, 'student')} over about {count(round(plan.weeks), 'week')}. "
        f"What matters: {shown.matters()} or more. Looks: {words.RULES[plan.rule]}."
    ) + narrowed(plan)


def open_to(plan: Plan) -> str:
    """Say who may take part, cohorts as typed; empty where all may."""
    return plain(eligible.who(plan))


def narrowed(plan: Plan, ineligible: int | None = None) -> str:
    """Say to whom a trial is narrowed, and how many were looked at and may not take part; empty where it is not."""
    if not open_to(plan):
        return ""
    said = " " + words.NARROWED.format(who=open_to(plan))
    return said if ineligible is None else f"{said} {count(ineligible, 'student')} looked at who may not take part."


def pace(trial: Trial, weeks_so_far: float) -> str:
    """Say how far recruitment is."""
    return pace_sentence(trial.entered, trial.plan.students, weeks_so_far)


def recruited(row: Row) -> str:
    """Say one week of recruitment (trial_follow.RECRUITMENT)."""
    return (
        f"Week of {day(row['week'])}: {row['entered']} entered, {row['entered_so_far']} in all; an even pace would be "
        f"{digits(row['planned_so_far'], 0)}."
    )


def adherence(arms: Sequence[Row], lot: str = "lot") -> str:
    """Say over all groups how many did what was drawn and were measured (rows of trial_follow.ARMS).

    Parameters
    ----------
    lot
        What is counted: lots, or in a crossover the turns of each student.
    """
    drawn = sum(row["drawn"] for row in arms)
    if not drawn:
        return words.NOBODY_ENTERED
    same, other, nothing, missed = (
        sum(row[name] for row in arms) for name in ("done_as_drawn", "done_other", "not_done", "missing")
    )
    return (
        f"Of {count(drawn, lot)} drawn, {same} {IS_ARE[same == 1]} done as drawn, {other} with something else, "
        f"{nothing} not yet; {missed} {IS_ARE[missed == 1]} without a measurement so far."
    )


def arm_line(row: Row, names: Names) -> dict[str, str | int]:
    """Return one group's line (trial_follow.ARMS)."""
    return {
        "group": first_up(arm_name(row["arm"], names)),
        "drawn": row["drawn"],
        "done as drawn": row["done_as_drawn"],
        "something else": row["done_other"],
        "not yet": row["not_done"],
        "declined after": row["declined_after_draw"],
        "measured": row["followed"],
        "missing": row["missing"],
    }


def balance(row: Row, names: Names, shown: Shown, reference: str) -> str:
    """Say whether two groups were alike at the start (trial_follow.BALANCE)."""
    what = words.CHARACTERISTICS.get(row["characteristic"], row["characteristic"])
    head = f"**{first_up(arm_name(row['arm'], names))}** against **{names.get(reference, reference)}**, {what}: "
    if missing(row["standardised_difference"]):
        return head + "too few to compare yet."
    off = digits(abs(row["standardised_difference"]), 2)
    return (
        f"{head}{shown.change(row['mean'])} and {shown.change(row['reference_mean'])}, "
        f"{off} standard deviations apart ({count(row['students'], 'student')} in the first)."
    )


def looks(taken: Sequence[Row], names: Names) -> list[str]:
    """Say each look that was taken (table trial_look)."""
    return [
        f"{day(row['on_date'])}, {arm_name(row['arm'], names)}, {percent(row['information'])} of the information: "
        f"{words.DECISIONS[row['decision']]}"
        for row in taken
    ]


def next_look(trial: Trial, measured: int, before: float | None) -> str:
    """Say when the next look is worth taking, by the rule chosen at the start."""
    rule = words.RULE_HELP[trial.plan.rule]
    share = percent(min(measured / max(trial.plan.students * trial.plan.followed, 1), 1.0))
    said = f"{count(measured, 'student')} measured so far, about {share} of those planned. {rule}"
    if before is not None:
        return f"{said} The last look was at {percent(before)}: the next one needs more than that."
    return f"{said} A look needs at least five measured students in each group."


def lot(arm: str, names: Names) -> str:
    """Say what was drawn for the student in the bay."""
    return f"Drawn by lot: **{arm_name(arm, names)}**."


def balls(done: int, most: int, since: datetime) -> str:
    """Say how many balls of free practice were hit of those that the trial takes, and since when."""
    return f"{done} of {count(most, 'ball')} of free practice since {clock(since)}; then the coach's choice."


def entered_on(row: Row) -> str:
    """Say when a student was entered (table trial_participant)."""
    return f"Entered on {day(row['entered_on'])}; the lot stays as it was drawn."


def not_begun(trial: Trial) -> str:
    """Say from when on students can be entered."""
    return words.NOT_BEGUN.format(day=day(trial.row["begun_on"]))


def safety(name: str, sentence: str) -> str:
    """Say what is known of a drill's stops (trial_monitor.Safety)."""
    return f"{name}: {sentence}"


def stopped(row: Row, as_typed: bool) -> str:
    """Say that a trial was stopped for harm, and what happened (table trial)."""
    said = words.STOPPED_FOR_HARM.format(day=day(row["ended_on"]), kind=words.HARM_KINDS[row["harm_kind"]])
    return f"{said} “{plain(row['harm_words'])}”" if as_typed and row["harm_words"] else said


def looked(decisions: Mapping[str, str], names: Names) -> str:
    """Say what a look decided, by group where they differ."""
    if not decisions:
        return words.DECISIONS["too early to look"]
    if len(set(decisions.values())) == 1:
        return words.DECISIONS[next(iter(decisions.values()))]
    return " ".join(f"{first_up(arm_name(arm, names))}: {words.DECISIONS[what]}" for arm, what in decisions.items())


def declined(row: Row) -> str:
    """Say that somebody did not take part, or did something else, and why (table trial_decline)."""
    what = "something else was done" if row["instead"] else "not done"
    return f"{day(row['at'])}: {what}, by {words.DECLINERS[row['declined_by']]}: “{plain(row['reason'])}”"
