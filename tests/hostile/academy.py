"""An invented academy in which whatever comes from outside is wrong on purpose: names where none belong, first of all.

Three nights, two bays. Ordinary faults: a file named after a student, a name typed into a cell, a header, an id, a
cohort, a note. Not here: what must not come of it (the tests).
"""

from __future__ import annotations

import csv
import gzip
from datetime import date, datetime, timedelta
from pathlib import Path

from warehouse.home import Home
from warehouse.notebook import actions
from warehouse.notebook.store import open_store

HIDDEN = ("Mia Lindqvist", "Jörg Müller", "Seán O'Neil", "Torben Ahlquist", "Zdenka", "李小龙")
"""Students who did not agree to be shown, a coach, a name of one word, and one without a blank."""
SHOWN = ("Ravi Sandhu", "Lena Holm")
"""Students who agreed: their names stand in the published file, in mart.student alone."""
STRANGER = "Petra Novakova"
"""A guest: in no table."""
PROFILE = """name = "plain"
[file]
format = "csv"
delimiter = ","
nulls = ["", "-"]
timestamp_format = "%Y-%m-%d %H:%M:%S"
timezone = "site"
[columns]
struck_at = { from = "time" }
student_id = { from = "who", optional = true }
club = { from = "club", map = { "Driver" = "driver", "7" = "iron-7" } }
club_speed = { from = "club mph", unit = "mph" }
ball_speed = { from = "ball mph", unit = "mph" }
launch_angle = { from = "launch", unit = "deg" }
carry = { from = "carry", unit = "yd" }
"""
HEADER = "time,who,club,club mph,ball mph,launch,carry\n"


def nights() -> tuple[date, ...]:
    """Return the nights, the latest yesterday."""
    return tuple(date.today() - timedelta(days=back) for back in (3, 2, 1))


def write(path: Path, rows: list[dict]) -> None:
    """Write a reference table."""
    with path.open("w", encoding="utf-8", newline="") as file:
        written = csv.DictWriter(file, list(rows[0]))
        written.writeheader()
        written.writerows(rows)


def tables(folder: Path) -> None:
    """Write the academy's tables, with names where ids, notes and cohorts belong."""
    folder.mkdir(parents=True)
    write(folder / "sites.csv", [{"site_id": "N", "name": "North", "timezone": "Europe/Lisbon", "altitude_m": 20}])
    bay = {"site_id": "N", "export_profile": "plain", "setting": "indoor", "ball": "range"}
    write(folder / "bays.csv", [{"bay_id": f"B{at}", **bay} for at in (1, 2, 3)])
    write(folder / "coaches.csv", [{"coach_id": "C1", "name": HIDDEN[3]}])
    people = [name for name in (*HIDDEN, *SHOWN) if name != HIDDEN[3]]
    write(folder / "students.csv", [
        {"student_id": f"S{at}", "name": name, "handed": "right", "handicap": 12, "joined_on": "2025-01-01",
         "cohort": "Lindqvist Mia and friends", "born_on": "2015-05-05" if at == 1 else "1990-01-01",
         "consent": "yes" if name in SHOWN else "no"}
        for at, name in enumerate(people)
    ])  # fmt: skip
    drill = {"aim_metric": "carry", "aim_direction": "raise", "aim_target": "", "club_group": "any",
             "setup": "as MÜLLER, Jörg does it", "caution": "keep Zdenka's distance"}  # fmt: skip
    write(folder / "drills.csv", [
        {"drill_id": "D1", "name": "Torben Ahlquist gate", **drill},
        {"drill_id": "mia-lindqvist-towel", "name": "Towel of mialindqvist", **drill},
    ])  # fmt: skip
    lessons, log = [], []
    for day in nights():
        for at, student in enumerate(("S0", "S1", "S5")):
            lesson = f"Mia Lindqvist {day} {at}" if at == 0 else f"L{day}{at}"
            begins = datetime.combine(day, datetime.min.time()) + timedelta(hours=9 + at)
            lessons.append(
                {
                    "lesson_id": lesson,
                    "student_id": student,
                    "coach_id": "C1",
                    "bay_id": "B1",
                    "starts_at": begins.isoformat(),
                    "ends_at": (begins + timedelta(hours=1)).isoformat(),
                }
            )
            log.append({"lesson_id": lesson, "drill_id": "mia-lindqvist-towel" if at else "D1",
                        "starts_at": (begins + timedelta(minutes=20)).isoformat(),
                        "ends_at": (begins + timedelta(minutes=30)).isoformat(), "chosen_by": "coach"})  # fmt: skip
    lessons.append(lessons[-1] | {"lesson_id": "L9", "student_id": "Jörg Müller"})
    write(folder / "lessons.csv", lessons)
    write(folder / "drill_log.csv", [*log, log[-1] | {"lesson_id": "Lindqvist, Mia"}])
    write(folder / "events.csv", [{"scope": "student", "id": "S1", "on_date": nights()[0], "kind": "long break",
                                   "club": "", "note": "Jörg Müller was away"}])  # fmt: skip
    write(folder / "observations.csv", [
        {"student_id": "S0", "observed_at": f"{nights()[0]}T09:10:00", "measure": "stance of Mia Lindqvist", "value": 3,
         "unit": "cm as Ravi Sandhu", "coach_id": "C1"},
    ])  # fmt: skip


def shots(day: date, at: int) -> list[str]:
    """Return a lesson's rows: twenty shots before a drill, some in it, twenty after."""
    begins = datetime.combine(day, datetime.min.time()) + timedelta(hours=9 + at)
    rows = []
    for shot in range(55):
        struck = begins + timedelta(minutes=shot)
        speed = 95 + (shot * 7 + at) % 9
        rows.append(f"{struck:%Y-%m-%d %H:%M:%S},-,{'Driver' if shot % 2 else '7'},{speed},{speed * 1.4:.1f},"
                    f"{12 + shot % 5},{speed * 2.2:.1f}")  # fmt: skip
    return rows


def exports(folder: Path) -> None:
    """Write the nights' exports: sound rows, and names in cells, headers and file names."""
    for day in nights():
        night = folder / day.isoformat()
        night.mkdir(parents=True)
        at_noon = f"{day} 12:30:00"
        wrong = [
            f"{at_noon},-,Driver,Mia Lindqvist,140,12,210",
            f"{at_noon},-,Driver,100,LINDQVIST Mia,12,210",
            f"{at_noon},-,Jörg Müller,100,141,12,210",
            f"{at_noon},-,Driver,100,142,müller jörg,210",
            f"{at_noon},-,Driver,100,143,12,{STRANGER}",
            f"{at_noon},-,Driver,100,143,12,zdenka",
            f"{at_noon},-,Driver,100,149,12,Mia%20Lindqvist",
            "Seán O’Neil,-,Driver,100,144,12,210",
            f"{at_noon},Mia Lindqvist,Driver,100,145,12,210",
            f"{at_noon},Lindqvist,Driver,100,146,12,210",
            f"{at_noon},-,Driver,100,147,12,210,Mia,Lindqvist",
            f"{at_noon},-,李小龙,100,148,12,210",
            f"{at_noon},-,Putter,100,148,12,210",
        ]
        lines = [line for at in range(3) for line in shots(day, at)]
        (night / "B1.csv").write_text(HEADER + "\n".join([*lines, *wrong]) + "\n", "utf-8")
        (night / "B2.csv").write_text("time,who,Mia Lindqvist,Jörg Müller\n1,2,3,4\n", "utf-8")
        for name in ("Mia Lindqvist", "lindqvist_mia", "Müller", STRANGER):
            (night / f"{name}.csv").write_text(HEADER + lines[0] + "\n", "utf-8")
        with gzip.open(night / "JoergMueller.csv.gz", "wb") as packed:
            packed.write((HEADER + lines[0]).encode())
        (night / "Mia Lindqvist").mkdir()
        (night / "Lindqvist, Mia.xlsx").write_bytes(b"PK")
    (folder / "Mia Lindqvist").mkdir()


def notebook(home: Home) -> None:
    """Enter what people type: a goal in words, and a line of use."""
    store = open_store(home.notebook_url(""))
    actions.set_goal(store, by="here", student_id="S6", words="hit it like Jörg Müller", metric="carry",
                     club_group="driver", target=200)  # fmt: skip
    actions.record_use(store, who="here", what="sql", detail="select * from x where name ilike '%LINDQVIST mia%'")
    store.close()


def make(home: Home) -> None:
    """Write the whole academy."""
    tables(home.landing / "academy")
    (home.landing / "profiles").mkdir()
    (home.landing / "profiles" / "plain.toml").write_text(PROFILE, "utf-8")
    exports(home.landing / "shots")
    notebook(home)
