"""A make's files learnt and loaded as a night does it; questions are answered by who knows the make, and counted."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from zoneinfo import ZoneInfo

import duckdb
import polars as pl

from tests.warehouse.landing.learning.made_exports import Make, written
from tests.warehouse.landing.learning.made_shots import PEOPLE
from warehouse.landing.exports import load
from warehouse.landing.learning import propose
from warehouse.landing.profile import units
from warehouse.landing.reference import load as reference

ZONE = "Europe/Lisbon"
ROUNDS = 5


@dataclass
class LearntBack:
    """What became of a make: exit code at first, questions asked, rows written, and rows that agree with them."""

    make: Make
    first: int
    last: int
    asked: list[str] = field(default_factory=list)
    rows: int = 0
    equal: int = 0
    loaded: int = 0
    wrong: dict[str, float] = field(default_factory=dict)
    home: Path = Path()


def make_home(home: Path, name: str) -> Path:
    """Write the tables of a small academy whose one bay is of a make."""
    academy = home / "landing" / "academy"
    academy.mkdir(parents=True)
    people = "".join(f"{key},{person},right,2024-01-01,yes\n" for key, person in PEOPLE.items())
    for file, text in {
        "sites": f"site_id,name,timezone,altitude_m\nN,North,{ZONE},20\n",
        "bays": f"bay_id,site_id,export_profile,setting,ball\nB3,N,{name},indoor,range\n",
        "coaches": "coach_id,name\nC1,A Coach\n",
        "students": "student_id,name,handed,joined_on,consent\n" + people,
        "drills": "drill_id,name,aim_metric,aim_direction,aim_target,club_group\n",
        "lessons": "lesson_id,student_id,coach_id,bay_id,starts_at,ends_at\n",
        "drill_log": "lesson_id,drill_id,starts_at,ends_at,chosen_by\n",
    }.items():
        (academy / f"{file}.csv").write_text(text, encoding="utf-8")
    return home


def learn_back(make: Make, shots: pl.DataFrame, folder: Path, said: dict[str, str] | None = None) -> LearntBack:
    """Write, learn, answer, load and compare.

    Parameters
    ----------
    said
        Answers that do not follow from the make's numbers, by key.
    """
    home = make_home(folder / "home", make.name)
    files, truth = written(make, shots, home / "landing" / "inbox" / make.name)
    done = propose.propose(make.name, files, home)
    result = LearntBack(make, done.outcome, done.outcome, home=home)
    for _ in range(ROUNDS):
        questions = done.learned.proposal.to_ask if done.learned.proposal else []
        if not questions:
            break
        result.asked += [question.key for question in questions]
        done = propose.propose(
            make.name, files, home, answers=[f"{q.key}={answer(make, q.key, said or {})}" for q in questions]
        )
    result.last = done.outcome
    _compare(result, truth)
    return result


def answer(make: Make, key: str, said: dict[str, str]) -> str:
    """Return what someone who knows the make answers."""
    if key in said:
        return said[key]
    section, name, part, *rest = key.split(".", 3) if key.count(".") > 1 else [*key.split("."), ""]
    number = next((one for one in make.numbers if one.metric == name), None)
    if number is not None:
        plus = units.SIGNS.get(units.PLUS.get(name, ""), ("", ""))
        return {"unit": number.unit, "from": number.header, "positive": plus[0] if number.sign == 1 else plus[1]}[part]
    if section == "inbox":
        return "B3"
    if name == "club" and rest:
        return next(club for club, text in make.clubs.items() if text == rest[0])
    raise AssertionError(f"nobody can answer {key}")


def _compare(result: LearntBack, truth: pl.DataFrame) -> None:
    """Load the home's inbox and count the rows that agree in every number, time, club and person."""
    landing = result.home / "landing"
    with duckdb.connect() as con:
        con.execute("create schema raw")
        load.create_tables(con)
        reference.load(con, landing)
        load.load(con, landing, load.changed(con, landing))
        got = con.execute("from raw.shot order by struck_at, line").pl()
    result.rows, result.loaded = truth.height, got.height
    if result.make.zone == "site":
        zone = ZoneInfo(ZONE)
        truth = truth.with_columns(
            pl.col("struck_at").map_elements(
                lambda t: t.replace(tzinfo=zone).astimezone(ZoneInfo("UTC")).replace(tzinfo=None), pl.Datetime("us")
            )
        )
    if got.height != truth.height:
        return
    agree = pl.Series([True] * truth.height)
    for name in truth.columns:
        wanted, found = truth[name], got[name]
        if name in ("struck_at", "student_id", "club"):
            same = (
                wanted.cast(pl.String).str.slice(0, 16) == found.cast(pl.String).str.slice(0, 16)
                if name == "struck_at"
                else wanted == found
            )
        else:
            off = (wanted.cast(pl.Float64) - found).abs() <= 1e-9 * wanted.cast(pl.Float64).abs().clip(1.0)
            same = off.fill_null(False) | (wanted.is_null() & found.is_null())
        same = same.fill_null(False)
        if not same.all():
            result.wrong[name] = round(float((~same).mean()), 2)
        agree &= same
    result.equal = int(agree.sum())
