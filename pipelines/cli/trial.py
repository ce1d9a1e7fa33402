"""`academy trial`: drill trials from the command line, the same steps as the dashboard's. They parse and call.

Not here: what a trial is (warehouse/trials), how tables look (trial_terminal.py).
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

from warehouse.home import Home

if TYPE_CHECKING:
    import duckdb

trial = typer.Typer(
    no_args_is_help=True,
    help="Drill trials: lots among drills held equally good, so that weeks tell what otherwise takes years.",
)
HomeOption = Annotated[
    Path | None, typer.Option("--home", help="The academy's folder; else $ACADEMY_HOME, else ./academy_home.")
]
ByOption = Annotated[str, typer.Option("--by", help="Who enters this: kept with the entry.")]
DayOption = Annotated[datetime | None, typer.Option("--on", formats=["%Y-%m-%d"], help="The day; else today.")]
TrialArgument = Annotated[str, typer.Argument(help="The trial's id, such as T1.")]
StudentArgument = Annotated[str, typer.Argument(help="The student's id.")]
JsonOption = Annotated[bool, typer.Option("--json", help="As JSON.")]
FREE_PRACTICE_OPTION = "free-practice"


@contextmanager
def opened(home: Path | None) -> Iterator[tuple[Home, Any, duckdb.DuckDBPyConnection]]:
    """Open a home's notebook and published file; say what is wrong and end with 2 where a step is refused."""
    from warehouse import connection
    from warehouse.notebook.store import open_store
    from warehouse.settings import settings

    place = Home.find(home)
    if not place.current.exists():
        refuse(f"nothing is published in {place.path} yet: run `academy nightly --home {place.path}`")
    try:
        store = open_store(place.notebook_url(settings.load(place.path).notebook.url))
        with connection.open_published(place.current) as published:
            yield place, store, published
        store.close()
    except (ValueError, FileNotFoundError, FileExistsError) as fault:
        refuse(str(fault))


def refuse(why: str) -> NoReturn:
    """Say why, and end with 2."""
    typer.echo(why, err=True)
    raise typer.Exit(2)


def chosen_rule(typed: str) -> str:
    """Return a rule for looks by its name, words joined by hyphens or blanks alike."""
    from warehouse.domain.trials.interim_look import RULES

    for rule in RULES:
        if rule.replace(" ", "-") == typed.replace(" ", "-"):
            return rule
    raise ValueError(f"{typed!r} is no rule for looks; one of: {', '.join(rule.replace(' ', '-') for rule in RULES)}")


def day(given: datetime | None) -> date:
    """Return the day given, else today."""
    return given.date() if given else datetime.now().astimezone().date()


@trial.command("list")
def list_trials(home: HomeOption = None, json: JsonOption = False) -> None:
    """List trials: planned, running, finished."""
    from pipelines.cli import trial_output
    from warehouse.trials import book

    with opened(home) as (_, store, _published):
        found = book.overview(store, day(None))
        trial_output.show(found, json=json, empty="There is no trial yet: see `academy trial next` and `plan`.")


@trial.command()
def plan(
    drills: Annotated[list[str], typer.Argument(help=f"Two drills or more; {FREE_PRACTICE_OPTION} counts as one.")],
    home: HomeOption = None,
    metric: Annotated[str, typer.Option(help="The number, where the drills share more than one aim.")] = "",
    club_group: Annotated[str, typer.Option(help="driver, wood, iron or wedge.")] = "",
    kind: Annotated[
        str, typer.Option(help="parallel: one drill a student; crossover: all, in an order drawn.")
    ] = "parallel",
    horizon: Annotated[str, typer.Option(help="transfer: the same session; retention: the next.")] = "transfer",
    episodes: Annotated[int, typer.Option(min=1, help="Times a student does what was drawn.")] = 1,
    agree: Annotated[float, typer.Option(min=0.05, max=1, help="Share of those asked who would take part.")] = 0.7,
    followed: Annotated[float, typer.Option(min=0.1, max=1, help="Share whose outcome is expected.")] = 0.8,
    rule: Annotated[
        str, typer.Option(help="Looks: obrien-fleming, pocock or always-valid; for good once begun.")
    ] = "obrien-fleming",
    students: Annotated[int, typer.Option(min=0, help="Students to draw; else what the smallest change needs.")] = 0,
    balls: Annotated[int, typer.Option(min=1, help="Most balls of a paid lesson for a free-practice arm.")] = 20,
    cohort: Annotated[
        list[str] | None, typer.Option(help="Only its members on the day of entry; again for another.")
    ] = None,
    goal: Annotated[
        bool, typer.Option("--goal", help="Only those whose goal in the notebook is the trial's number.")
    ] = False,
    title: Annotated[str, typer.Option(help="Its name.")] = "",
    begin: Annotated[bool, typer.Option("--begin", help="Keep the plan and begin; else only reckon.")] = False,
    on: DayOption = None,
    by: ByOption = "command line",
    json: JsonOption = False,
) -> None:
    """Reckon what a trial needs from this academy's own spread and pace; --begin keeps the plan."""
    from pipelines.cli import trial_output
    from warehouse.domain.trials.power import Design
    from warehouse.domain.trials.randomisation import FREE_PRACTICE
    from warehouse.trials import book, eligible, gates, proposal

    chosen = [FREE_PRACTICE if drill == FREE_PRACTICE_OPTION else drill for drill in drills]
    with opened(home) as (place, store, con):
        rule = chosen_rule(rule)
        asked = proposal.question_of(con, chosen, metric, club_group)
        if len(asked.treatments) < 2:
            raise ValueError(f"a trial compares two drills or more, or a drill with {FREE_PRACTICE_OPTION}")
        design = Design(kind, horizon, len(asked.treatments), episodes, followed=followed)
        among = eligible.among(store, con, asked.metric, cohort or [], goal, day(on))
        needs = proposal.needs_of(con, asked, design, agree, rule, among)
        told = proposal.told_by(con, asked, design, agree, rule, [students or needs["size"]], among).row(0, named=True)
        open_to = eligible.described(cohort or [], asked.metric if goal else None)
        trial_output.show_plan(asked, open_to, needs, told, json=json)
        if begin:
            made = proposal.plan(
                con, asked, design, trial_id=proposal.next_id(store), title=title or " or ".join(asked.treatments),
                students=told["students"], weeks=told["weeks"] or proposal.WEEKS_UNKNOWN, rule=rule,
                free_practice_balls=balls, cohorts=cohort or [], goal=goal, among=among,
            )  # fmt: skip
            through = gates.last_night(con)
            if through is not None and day(on) <= through:
                raise ValueError(
                    f"a trial begins after what is published already (through {through}): its plan must not know its "
                    "outcomes; leave --on away to begin today"
                )
            commitment = book.begin(store, place.path, made, begun_on=day(on), by=by)
            typer.echo(f"{made.trial_id} begins on {day(on)}; the sum that binds its plan and lots: {commitment}")


@trial.command()
def agree(
    trial_id: TrialArgument,
    student_id: StudentArgument,
    home: HomeOption = None,
    guardian: Annotated[bool, typer.Option("--guardian", help="A guardian's; else the student's own.")] = False,
    on: DayOption = None,
    by: ByOption = "command line",
) -> None:
    """Write down a dated agreement to take part; a minor needs a guardian's and their own."""
    from warehouse.trials import book, gates

    with opened(home) as (_, store, con):
        if con.execute("select 1 from mart.student where student_id = ?", [student_id]).fetchone() is None:
            raise ValueError(f"there is no student {student_id} in the published file; look at the list of students")
        who = "guardian" if guardian else "student"
        book.agree(store, trial_id=trial_id, student_id=student_id, agreed_by=who, agreed_on=day(on), by=by,
                   today=gates.latest_day(con))  # fmt: skip
        typer.echo(f"{student_id}: the {who}'s agreement of {day(on)} is kept; `academy trial withdraw` takes it back")


@trial.command()
def draw(
    trial_id: TrialArgument,
    student_id: Annotated[str, typer.Argument(help="Enter this student for good and draw; none: lots so far.")] = "",
    home: HomeOption = None,
    on: DayOption = None,
    by: ByOption = "command line",
    csv: Annotated[Path | None, typer.Option("--csv", help="Write the lots so far into this file.")] = None,
    json: JsonOption = False,
) -> None:
    """Enter a student and draw the lot, both or neither; or list the lots so far. No lot exists before its student."""
    from pipelines.cli import trial_output
    from warehouse.query import guard
    from warehouse.trials import book, entering

    with opened(home) as (place, store, con):
        if student_id:
            lot, caution = entering.enter(store, con, place.path, trial_id, student_id, on=day(on), by=by)
            typer.echo(f"{student_id} is drawn to: {lot.arm}" + (f"\nCaution: {caution}" if caution else ""))
            typer.echo("The coach on site decides; `academy trial decline` keeps what was done instead, and why.")
            return
        lots = book.lots_so_far(store, trial_id)
        if csv:
            try:
                csv.write_bytes(guard.to_csv_safe(lots))
            except OSError as fault:
                refuse(f"{csv} cannot be written ({fault.strerror}); name a file in a folder that is there")
            typer.echo(f"{lots.height} lots in {csv}")
            return
        trial_output.show(lots, json=json, empty="No lot has been drawn yet.")


@trial.command()
def decline(
    trial_id: TrialArgument,
    student_id: StudentArgument,
    reason: Annotated[str, typer.Option("--reason", help="Why, in a sentence; no diagnosis.")],
    home: HomeOption = None,
    declined_by: Annotated[str, typer.Option("--declined-by", help="coach or student.")] = "coach",
    instead: Annotated[str, typer.Option("--instead", help="The drill given instead, after a lot.")] = "",
    by: ByOption = "command line",
) -> None:
    """Keep that a student does not take part, or was given something other than the lot, and why."""
    from warehouse.trials import book

    with opened(home) as (_, store, _published):
        book.decline(
            store, trial_id=trial_id, student_id=student_id, declined_by=declined_by, reason=reason,
            at=datetime.now().replace(microsecond=0), by=by, instead=instead or None,
        )  # fmt: skip
        typer.echo(f"{student_id}: kept; the result is read as drawn and as done")


@trial.command()
def withdraw(
    trial_id: TrialArgument, student_id: StudentArgument, home: HomeOption = None, by: ByOption = "command line"
) -> None:
    """Take back every agreement for a student; outcomes after that are not used."""
    from warehouse.trials import book

    with opened(home) as (_, store, _published):
        taken = book.take_back(store, trial_id=trial_id, student_id=student_id, by=by)
        if not taken:
            raise ValueError(f"no agreement of {student_id} stands in {trial_id}; nothing to take back")
        typer.echo(f"{student_id}: {taken} agreement{'s' if taken != 1 else ''} taken back")


@trial.command()
def follow(
    trial_id: TrialArgument,
    home: HomeOption = None,
    look: Annotated[bool, typer.Option("--look", help="Take a look by the rule; it is kept and counts.")] = False,
    end: Annotated[bool, typer.Option("--end", help="End the trial, open its secret, check every lot.")] = False,
    harm: Annotated[str, typer.Option(help="End it for harm: pain, aid-struck, rebound or other.")] = "",
    words: Annotated[str, typer.Option(help="What happened, in a sentence; no names, no diagnosis.")] = "",
    on: DayOption = None,
    by: ByOption = "command line",
    json: JsonOption = False,
) -> None:
    """Recruitment against plan, harm, balance, adherence, missing; no outcome by group is shown."""
    from pipelines.cli import trial_output
    from warehouse.trials import book, gates, snapshot
    from warehouse.trials import follow as following

    with opened(home) as (place, store, con):
        # Past the last night published nobody can have been entered: weeks that say nothing are not shown.
        known = on.date() if on else following.known_through(store, con, trial_id, day(None))
        if look:
            for arm, seen in following.take_look(store, con, trial_id, on=day(on), by=by).items():
                typer.echo(f"{arm}: {seen.decision} ({seen.information:.0%} of the information planned)", err=json)
        if end or harm or words:
            faults = book.end(
                store, place.path, trial_id=trial_id, on=day(on), by=by, harm=harm.replace("-", " ") or None,
                harm_words=words, today=gates.latest_day(con),
            )  # fmt: skip
            frozen = snapshot.freeze(store, con, trial_id, by)
            typer.echo(
                f"The result is frozen as of the night of {frozen.through_night}; its hash: {frozen.content_hash}",
                err=json,
            )
            drawn_anew = "; ".join(faults) or "Every lot drawn anew is as it was drawn."
            typer.echo(f"{trial_id} has ended. {drawn_anew}", err=json)
        trial_output.show_state(following.state(store, con, trial_id, known), json=json)


@trial.command()
def read(trial_id: TrialArgument, home: HomeOption = None, json: JsonOption = False) -> None:
    """The finished trial: assessed, drawn, done, analysed; difference with interval, verdict and certainty."""
    from pipelines.cli import trial_output
    from warehouse.trials import reports

    with opened(home) as (_, store, con):
        trial_output.show_report(reports.report(store, con, trial_id), json=json)


@trial.command("next")
def what_next(home: HomeOption = None, json: JsonOption = False) -> None:
    """Where a trial would change most decisions of this academy: a ranked list."""
    from pipelines.cli import trial_output
    from warehouse.trials import planning, proposal
    from warehouse.trials.plan import Plan

    with opened(home) as (_, _store, con):
        trial_output.show_next(planning.what_next(con, times=proposal.looks_cost(Plan.rule)), json=json)
