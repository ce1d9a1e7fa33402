"""A run's events in Dagster told in the log: steps, refused files, checks, publication. Not here: how it is kept."""

from __future__ import annotations

import logging
from collections import defaultdict
from typing import Any

import dagster as dg
from dagster._utils.error import SerializableErrorInfo

from pipelines.runs import run_log
from pipelines.runs.run_log import say
from warehouse.home import Home


def follow(home: Home, instance: dg.DagsterInstance, run_id: str) -> None:
    """Tell a run's events from now on, in this process."""
    instance.add_event_listener(run_id, Follower(home, run_id))


def without_class_name(error: SerializableErrorInfo) -> str:
    """Return the first line of what an error says, without the name of its class before it."""
    said = error.message.strip().split("\n")[0]
    head, _, rest = said.partition(": ")
    named = head.rsplit(".", 1)[-1] == error.cls_name or (head == said and said.endswith(error.cls_name or "-"))
    return (rest or "it was stopped, or failed for a reason that only its log tells") if named else said


def other_version(tables: list[str]) -> None:
    """Tell that another version of the program had made tables."""
    say("tables of another version", level=logging.WARNING, tables=tables)


def evidence(why: str | None) -> None:
    """Tell why the evidence is made anew, or that it is carried over."""
    say("evidence made anew", why=why) if why else say("evidence carried over")


class Follower:
    """Tells what a Dagster run tells: steps, refused files, checks, the publication."""

    def __init__(self, home: Home, run_id: str) -> None:
        self._home, self._run_id = home, run_id
        self._alone = not run_log.at_work()
        self._made: dict[str, dict[tuple[str, ...], dict[str, Any]]] = defaultdict(dict)
        self._refused: set[str] = set()

    def __call__(self, entry: Any) -> None:
        """Take one event of the run."""
        event = entry.dagster_event
        tell = self.TELLS.get(event.event_type_value) if event is not None else None
        if tell is None:
            return
        if self._alone:
            # A run that a schedule or the web server started: nobody else keeps the log.
            with run_log.kept(self._home, self._run_id):
                tell(self, event)
        else:
            tell(self, event)

    def _materialized(self, event: Any) -> None:
        made = event.step_materialization_data.materialization
        said = {name: held.value for name, held in made.metadata.items()}
        # A table of nights says the same for each of them.
        for file in said.pop("refused", None) or ():
            if file["path"] not in self._refused:
                self._refused.add(file["path"])
                say("file refused", level=logging.WARNING, **file)
        self._made[event.step_key][tuple(made.asset_key.path)] = {
            name.replace(" ", "_"): held for name, held in said.items() if "/" not in name
        }

    def _checked(self, event: Any) -> None:
        check = event.asset_check_evaluation_data
        if not check.passed:
            failed = check.severity.value == "ERROR"
            found = {name: held.value for name, held in check.metadata.items()}
            say("check failed" if failed else "check warned", level=logging.ERROR if failed else logging.WARNING,
                table=".".join(check.asset_key.path), check=check.check_name, **found)  # fmt: skip

    def _step_ended(self, event: Any) -> None:
        step = event.step_key.replace("__", ".")
        seconds = round(event.event_specific_data.duration_ms / 1000, 3)
        tables = self._made.pop(event.step_key, {}).values()
        made = {name: held for said in tables for name, held in said.items()}
        if "rows" in made:
            made["rows"] = sum(said.get("rows", 0) for said in tables)
        if step == "published.current":
            say("published", seconds=seconds, **made)
        else:
            say("step done", step=step, seconds=seconds, **made)

    def _step_failed(self, event: Any) -> None:
        error = event.event_specific_data.error
        cause = error and (error.cause or error)
        why = cause.message.strip().split("\n")[0] if cause else None
        say("step failed", level=logging.ERROR, step=event.step_key.replace("__", "."), why=why)

    def _run_ended(self, event: Any) -> None:
        if self._alone:
            ended = event.event_type_value.removeprefix("PIPELINE_").lower()
            say("run ended", level=logging.INFO if ended == "success" else logging.ERROR, outcome=ended)

    TELLS = {  # noqa: RUF012
        "ASSET_MATERIALIZATION": _materialized,
        "ASSET_CHECK_EVALUATION": _checked,
        "STEP_SUCCESS": _step_ended,
        "STEP_FAILURE": _step_failed,
        "PIPELINE_SUCCESS": _run_ended,
        "PIPELINE_FAILURE": _run_ended,
        "PIPELINE_CANCELED": _run_ended,
    }
