"""How drill trials look on a terminal. Words and widths only."""

from __future__ import annotations

import json as text
import sys
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import polars as pl
import typer

from warehouse.schema.metrics import METRIC

if TYPE_CHECKING:
    from warehouse.trials.follow import State
    from warehouse.trials.proposal import Question
    from warehouse.trials.reports import Report

WIDTH = 140


def show(frame: pl.DataFrame, *, json: bool, empty: str = "Nothing yet.", title: str = "") -> None:
    """Show a frame as a table, or as JSON rows."""
    if json:
        from warehouse.query import guard

        sys.stdout.buffer.write(guard.to_json(frame))
        return
    if frame.is_empty():
        typer.echo(empty)
        return
    from rich.console import Console
    from rich.table import Table

    table = Table(*frame.columns, title=title or None, title_justify="left")
    for row in frame.iter_rows():
        table.add_row(*("" if value is None else f"{value:.3g}" if isinstance(value, float) else str(value)
                        for value in row))  # fmt: skip
    Console(width=None if sys.stdout.isatty() else WIDTH).print(table, markup=False)


def write_json(values: Any) -> None:
    """Write one JSON value; dates as ISO, frames as rows."""

    def plain(value: Any) -> Any:
        return value.to_dicts() if isinstance(value, pl.DataFrame) else str(value)

    typer.echo(text.dumps(values, default=plain, ensure_ascii=False, indent=2))


def unit_of(metric: str, measure: str, value: float) -> str:
    """Return a size with the unit it is shown in."""
    one = METRIC[metric]
    return f"{value / one.per_display_unit:.{one.decimals + 1}f} {one.display_unit}".strip()


def show_plan(
    asked: Question, open_to: str, needs: dict[str, Any], told: dict[str, Any], *, json: bool,
) -> None:  # fmt: skip
    """Show what a trial needs and what one of the size in `told` would tell, the cost of its looks counted in both."""
    size, times = told["students"], needs["times"]
    if json:
        write_json({"question": asdict(asked), "open_to": open_to, "inflation": times, "students": size,
                    "tells": told, "needs": {k: v for k, v in needs.items() if k != "spread"}})  # fmt: skip
        return
    typer.echo(f"{' against '.join(asked.treatments)}, by {METRIC[asked.metric].label} ({asked.club_group}).")
    if open_to:
        typer.echo(f"Who may take part: {open_to}; {needs['candidates']} of them come to lessons.")
    typer.echo(needs["sentence"])
    typer.echo(f"Looks on the way cost {times:.2f} times the students of a trial without; all numbers here count it.")
    show(needs["curve"], json=False, title="By number of students")
    least = told["detectable"]
    typer.echo(
        f"With {size} students: {told['power']:.0%} chance to find the smallest change that matters "
        f"({unit_of(asked.metric, asked.measure, asked.matters_from)})"
        + (f"; four times in five one of {unit_of(asked.metric, asked.measure, least)} or more." if least else ".")
    )
    if told["power"] < 0.5:
        typer.echo("That is thin: finding nothing would not mean that there is nothing.")
    for name, caution in asked.cautions.items():
        typer.echo(f"Caution, {name}: {caution}")
    typer.echo("Draw only among drills held equally good for those asked; the coach on site decides.")


def show_state(state: State, *, json: bool) -> None:
    """Show how a running trial does."""
    if json:
        write_json({**asdict(state), "recruitment": state.recruitment, "balance": state.balance, "arms": state.arms})
        return
    show_harm(state)
    for drill, safety in state.safety.items():
        typer.echo(f"{drill}: {safety.sentence}")
    typer.echo(state.sentence)
    show_open_to(state)
    show(state.recruitment, json=False, title="Entered, against plan")
    show(state.arms, json=False, title="Done as drawn, and followed")
    show(state.balance, json=False, title="Alike at the start", empty="Balance: nobody to compare yet.")


def show_harm(state: State) -> None:
    """Say that a trial was stopped for harm, and why."""
    if state.harm:
        typer.echo(f"Stopped for harm: {state.harm}" + (f": {state.harm_words}" if state.harm_words else "") + ".")


def show_open_to(state: State) -> None:
    """Say to whom a trial is narrowed, and how many were looked at and may not take part."""
    if state.open_to:
        typer.echo(f"Who may take part: {state.open_to}; {state.ineligible} looked at who may not.")


def show_report(found: Report, *, json: bool) -> None:
    """Show a finished trial in the order of its flow."""
    if json:
        write_json({
            "plan": asdict(found.plan), "harm": found.state.harm, "harm_words": found.state.harm_words,
            "flow": found.flow, "result": found.result, "looks": found.looks,
            "verdicts": {arm: asdict(one) for arm, one in found.verdicts.items()}, "faults": found.faults,
            "frozen_through": found.frozen.through_night, "frozen_hash": found.frozen.content_hash,
            "changed_since": found.changed_since,
        })  # fmt: skip
        return
    typer.echo(f"{found.plan.title}: {found.entry['begun_on']} to {found.entry['ended_on']}")
    show_harm(found.state)
    show_open_to(found.state)
    show(found.flow, json=False, title="Assessed, drawn, done, followed, analysed", empty="A crossover has no arms.")
    show(found.looks.select("on_date", "arm", "information", "decision"), json=False, title="Looks", empty="No looks.")
    for row in found.result.iter_rows(named=True):
        typer.echo(f"{row['arm']} against {row['reference']}, {row['analysis']}: {difference(found, row)}")
    for arm, judged in found.verdicts.items():
        typer.echo(f"{arm}: {judged.verdict} ({judged.reason})")
        typer.echo(f"{arm}: {judged.certainty} certainty ({judged.certainty_reason})")
    typer.echo("; ".join(found.faults) or "Every lot, drawn anew with the opened secret, is as it was drawn.")
    typer.echo(
        f"Read from what was frozen as of the night of {found.frozen.through_night} (hash {found.frozen.content_hash})."
    )
    if found.changed_since:
        typer.echo(
            f"Since then the rows of {found.changed_since} students would read otherwise (withdrawn, corrected or "
            "measured later); the result above stays."
        )


def difference(found: Report, row: dict[str, Any]) -> str:
    """Return one difference with its interval and the randomisation test."""
    if row["effect"] is None or row["ci_low"] is None:
        return row["reason"] or "no difference can be told"
    effect, low, high = (
        unit_of(found.plan.metric, found.plan.measure, row[name]) for name in ("effect", "ci_low", "ci_high")
    )
    luck = row["randomisation_p"]
    tested = f"; other draws of the same lots give as much in {luck:.1%}" if luck is not None else ""
    return f"{effect} (95% {low} to {high}), {row['students']} and {row['reference_students']} students{tested}"


def show_next(ranked: pl.DataFrame, *, json: bool) -> None:
    """Show what could be tried, best first, and what should not, with why."""
    if json:
        show(ranked, json=True)
        return
    open_pairs = ranked.filter(pl.col("reason").is_null())
    if open_pairs.is_empty():
        typer.echo("No trial would change a decision now; more episodes of the drills in use may.")
    for row in open_pairs.iter_rows(named=True):
        typer.echo(f"{row['rank']}. {row['sentence']}")
    for row in ranked.filter(pl.col("reason").is_not_null()).iter_rows(named=True):
        typer.echo(f"-  {row['drill_id']} / {row['against']}, {row['metric']}, {row['club_group']}: {row['reason']}")
