"""`academy trial looked-into`: that somebody on site looked into a stop. Not here: what it stops (warehouse/trials)."""

from __future__ import annotations

from typing import Annotated

import typer

from pipelines.cli.trial import ByOption, HomeOption, TrialArgument, opened


def looked_into(
    trial_id: TrialArgument,
    drill_id: Annotated[str, typer.Argument(help="The drill that was stopped.")],
    words: Annotated[str, typer.Option("--words", help="What was looked at on site; no names, no diagnosis.")],
    home: HomeOption = None,
    by: ByOption = "command line",
) -> None:
    """Keep that the coach on site looked into a drill's stop for pain; until then no lot of the trial is drawn."""
    from warehouse.trials import book, gates

    with opened(home) as (_, store, _published):
        _, plan = book.trial(store, trial_id)
        if drill_id not in plan.treatments:
            raise ValueError(f"{drill_id} is no drill of {trial_id}; its drills: {', '.join(plan.treatments)}")
        gates.look_into(store, trial_id=trial_id, drill_id=drill_id, words=words, by=by)
        typer.echo(f"{drill_id}: kept, with the time and '{by}'. Pain ends a drill whatever the book says.")
