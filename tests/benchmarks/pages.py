"""How long each page and each query takes on a big home: `python -m tests.benchmarks.pages --home DIR`.

Every repeat asks for another student, drill, cohort, bay and night, so that no answer was kept from the one before. A
page is timed on a real server over Streamlit's own websocket, from the request to the script's last word. Beside each
stands its ratio to one bare DuckDB query of the same run (count one student's shots), so that a busy machine slows
both; processor seconds hardly feel a busy machine at all. Only lines of use are written into the home (the SQL page).
The aim: 95 of 100 of a page's runs after its first under 300 ms.
"""

from __future__ import annotations

import argparse
import datetime
import os
import re
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import duckdb
import numpy as np

from tests.benchmarks.reader import Reader

ROOT = Path(__file__).parents[2]
QUERIES = ROOT / "dashboard" / "queries"
AIM = 0.3
BARE = "select count(*) from core.shot where student_id = $student_id"
PAGES = ("week", "cohorts", "drills", "drill", "trials", "students", "notebook", "take_home", "bays", "sql", "help")
ADDRESS_OF = {
    "cohorts": ("cohort", "window"),
    "drills": ("number",),
    "drill": ("drill",),
    "students": ("student",),
    "notebook": ("student", "bay"),
    "take_home": ("student",),
    "bays": ("night", "bay", "metric"),
    "sql": ("sql",),
}
"""Page -> what its address chooses."""


class Choices:
    """What can be asked for in a published file; another of each with every number."""

    def __init__(self, connection: duckdb.DuckDBPyConnection) -> None:
        def every(sql: str) -> list[Any]:
            return [row[0] if len(row) == 1 else row for row in connection.execute(sql).fetchall()]

        ordered = "from core.session where student_id is not null group by 1 order by hash(student_id)"
        self.sessions = every(f"select student_id, max_by(session_id, begins_at), max(main_club) {ordered}")
        self.bays = every("select bay_id, site_id from mart.bay order by 1")
        self.nights = every("select night from ops.night order by 1")
        self.drills = every("select drill_id from mart.drill order by 1")
        self.cohorts = every(
            "select distinct cohort, window_pair, club_group, metric from mart.cohort_change order by all"
        )
        self.coaches = every("select distinct coach_id from core.session where coach_id is not null order by 1")
        self.metrics = every("select distinct metric from mart.metric order by 1")

    def parameters(self, number: int) -> dict[str, Any]:
        """Return every parameter that a query may have."""

        def one(values: list[Any], step: int = 1) -> Any:
            return values[number * step % len(values)] if values else None

        student_id, session_id, club = one(self.sessions)
        bay_id, site_id = one(self.bays, 7)
        cohort, window_pair, club_group, metric = one(self.cohorts, 11)
        night = one(self.nights)
        return {
            "student_id": student_id, "session_id": session_id, "club": club, "bay_id": bay_id, "site_id": site_id,
            "cohort": cohort, "window_pair": window_pair, "club_group": club_group, "metric": metric, "night": night,
            "drill_id": one(self.drills), "coach_id": one(self.coaches), "measure": "centre", "nights": 10,
            "at": datetime.datetime.combine(night, datetime.time(8 + number % 12)), "club_speed": 38.0 + number % 12,
            "period": "month", "grouped_by": "drill", "group_id": one(self.drills), "distance": number % 2 == 0,
            "better": 1, "target": 0.0, "attack_mirrored": False, "path_mirrored": True,
        }  # fmt: skip

    def address(self, number: int) -> dict[str, str]:
        """Return every choice that a page's address may have."""
        asked = self.parameters(number)
        return {
            "student": asked["student_id"], "bay": asked["bay_id"], "night": str(asked["night"]),
            "drill": asked["drill_id"], "cohort": asked["cohort"], "window": asked["window_pair"],
            "number": f"{asked['club_group']}.{asked['metric']}", "metric": self.metrics[number % len(self.metrics)],
            "sql": "select club, count(*) as shots, avg(carry) as carry from core.shot where night = "
            f"'{asked['night']}' group by club order by shots desc",
        }  # fmt: skip


def taken(
    run: Callable[[int], Any], repeats: int, used: Callable[[], float] = time.process_time
) -> tuple[float, float, np.ndarray, np.ndarray]:
    """Run something with number 0 first, then with 1, 2 …; return first wall, first processor, then all others'."""
    wall, processor = [], []
    for number in range(repeats + 1):
        begun, spent = time.perf_counter(), used()
        run(number)
        wall.append(time.perf_counter() - begun)
        processor.append(used() - spent)
    return wall[0], processor[0], np.array(wall[1:]), np.array(processor[1:])


def tell(what: str, times: tuple[float, float, np.ndarray, np.ndarray], bare: float, bare_processor: float) -> bool:
    """Print one line in milliseconds; return whether the aim is met."""
    first, _, wall, processor = times
    p50, p95 = np.quantile(wall, (0.5, 0.95))
    c50, c95 = np.quantile(processor, (0.5, 0.95))
    print(
        f"{what:<24} first {first * 1e3:8.1f}   wall p50 {p50 * 1e3:7.1f}  p95 {p95 * 1e3:7.1f}  "
        f"(ratio {p50 / bare:6.1f})   processor p50 {c50 * 1e3:7.1f}  p95 {c95 * 1e3:7.1f}  "
        f"(ratio {c50 / bare_processor:6.1f})"
        f"{'' if p95 <= AIM else '   over the aim'}",
        flush=True,
    )
    return bool(p95 <= AIM)


def queries(connection: duckdb.DuckDBPyConnection, choices: Choices) -> Iterator[tuple[str, Callable[[int], Any]]]:
    """Give each query by name, with what runs it."""
    for path in sorted(QUERIES.glob("*.sql")):
        sql = path.read_text(encoding="utf-8")
        wanted = set(re.findall(r"\$(\w+)", re.sub(r"--.*", "", sql)))

        def run(number: int, sql: str = sql, wanted: set[str] = wanted, name: str = path.stem) -> None:
            asked = {key: value for key, value in choices.parameters(number).items() if key in wanted}
            if name == "night_episodes":  # asked for a session or for a coach's night, never both
                asked["coach_id" if number % 2 else "session_id"] = None
            connection.cursor().execute(sql, asked or None).pl()

        yield path.stem, run


def processor_of(process: subprocess.Popen[bytes]) -> Callable[[], float]:
    """Return what tells the processor seconds that a process has used."""

    def told() -> float:
        fields = Path(f"/proc/{process.pid}/stat").read_text().rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    return told


def pages(home: Path, choices: Choices, only: str, repeats: int, bare: tuple[float, float]) -> tuple[int, int]:
    """Time every page on a server of its own, in one session a page; return how many met the aim, of how many."""
    sys.path.insert(0, str(ROOT / "tests" / "dashboard"))
    import browsing

    met = []
    port = browsing.free_port()
    server = browsing.start(home, port)
    try:
        for name in PAGES:
            if only not in name:
                continue
            with Reader(f"http://localhost:{port}") as reader:

                def run(number: int, name: str = name, reader: Reader = reader) -> float:
                    address = choices.address(number)
                    sent = reader.open(name, **{key: address[key] for key in ADDRESS_OF.get(name, ())})
                    if sent.exceptions or not sent.finished:
                        raise RuntimeError(f"{name}: {sent.exceptions}, finished: {sent.finished}")
                    return sent.seconds

                times = taken(run, repeats, processor_of(server))
            met.append(tell(f"page {name}", times, *bare))
    finally:
        browsing.end(server)
    return sum(met), len(met)


def measure(home: Path, repeats: int, only: str) -> None:
    """Time the bare query, every query, every page."""
    published = (home / "published" / "current.duckdb").resolve()
    with duckdb.connect(str(published), read_only=True, config={"enable_external_access": "false"}) as connection:
        choices = Choices(connection)
        shots = connection.execute("select count(*) from core.shot").fetchone()[0]
        print(f"{shots:,} shots, {repeats} repeats after the first, milliseconds; aim p95 {AIM * 1e3:.0f} ms a page")

        def bare(number: int) -> None:
            connection.cursor().execute(BARE, {"student_id": choices.parameters(number)["student_id"]}).pl()

        times = taken(bare, repeats)
        base, base_processor = float(np.median(times[2])), float(np.median(times[3]))
        tell("bare query", times, base, base_processor)
        for name, run in queries(connection, choices):
            if only in name:
                tell(f"query {name}", taken(run, repeats), base, base_processor)
    met, pages_timed = pages(home, choices, only, repeats, (base, base_processor))
    print(f"{met} of {pages_timed} pages within the aim")


def main() -> None:
    """Measure the home named."""
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--home", type=Path, required=True, help="a home with a published file; only read")
    arguments.add_argument("--repeats", type=int, default=20, help="runs after the first, each with other choices")
    arguments.add_argument("--only", default="", help="pages and queries with this in their name")
    asked = arguments.parse_args()
    measure(asked.home.absolute(), asked.repeats, asked.only)


if __name__ == "__main__":
    main()
