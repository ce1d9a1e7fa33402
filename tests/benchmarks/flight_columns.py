"""What the flight columns add to building a history: the same nights built with them and without, a process each.

Without them every shot's flight is null and nothing is flown; all else is the same. Also how long the tables about
carry take, which are made whole after the nights. `python -m tests.benchmarks.flight --history SHOTS` runs it.
"""

from __future__ import annotations

import json
import resource
import sys
import tempfile
import time
from pathlib import Path

import polars as pl

from demo_data.history import write_history
from tests.benchmarks.measured import KIBIBYTE, run
from warehouse.build import fingerprints
from warehouse.build import run as build
from warehouse.build.model import models
from warehouse.connection import private
from warehouse.home import Home
from warehouse.landing import notebook_entries
from warehouse.landing.exports import load as exports
from warehouse.landing.reference import load as reference
from warehouse.models.stage import shot_flight
from warehouse.settings.settings import Settings

BAYS, MEGABYTE = 40, 1_000_000
CARRY_TABLES = (
    "mart.carry_source", "mart.carry_source_summary", "mart.cohort_carry", "mart.delivery_reading",
    "mart.carry_by_attack", "mart.carry_by_delivery",
)  # fmt: skip


def nothing_flown(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Return the rows of stage.shot_flight with nothing in them."""
    numbers = ("air_density", "model_carry", "standard_carry", "carry_available")
    return frames["shots"].select(
        "shot_number", *(pl.lit(None, pl.Float64).alias(name) for name in numbers), model_spin=pl.lit(None, pl.String)
    )


def load(home: Home) -> None:
    """Bring the landing folder into raw."""
    with private(home) as connection:
        reference.load(connection, home.landing)
        exports.create_tables(connection)
        notebook_entries.load(connection, home.notebook_url(""))
        exports.load(connection, home.landing, exports.changed(connection, home.landing))


def build_all(home: Home, *, with_flight: bool) -> dict[str, float]:
    """Build every night; return processor seconds of it and of each table about carry, and the peak memory."""
    if not with_flight:
        shot_flight.rows = nothing_flown
    settings, taken = Settings(), dict[str, float]()
    with private(home) as connection:
        build.prepare(connection, settings)
        begun = time.process_time()
        build.build_nights(connection, fingerprints.changed(connection, settings), settings)
        taken["nights"] = time.process_time() - begun
        taken["shots"] = connection.execute("select count(*) from core.shot").fetchall()[0][0]
        taken["peak"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * KIBIBYTE
        if with_flight:
            for name in models():
                if not models()[name].by_night and name.split(".")[0] in ("core", "mart"):
                    begun = time.process_time()
                    build.build_table(connection, name, settings)
                    if name in CARRY_TABLES:
                        taken[name] = time.process_time() - begun
    return taken


def measure(shots: int) -> None:
    """Write a history, build it both ways and print what the flight columns cost."""
    with tempfile.TemporaryDirectory(prefix="flight-") as folder:
        found = {}
        for way in ("without", "with"):
            home = Path(folder) / way
            write_history(home / "landing", shots=shots, bays=BAYS, last_night_shots=min(shots, 100_000))
            load(Home(home))
            command = [sys.executable, "-m", "tests.benchmarks.flight_columns", str(home), way]
            done = run(command, home.with_suffix(".out"))
            if done.code:
                raise RuntimeError(done.said)
            found[way] = json.loads(done.said.splitlines()[-1])
    plain, flown = found["without"], found["with"]
    print(
        f"history of {flown['shots']:,.0f} shots, processor seconds of its nights: {plain['nights']:.2f} without the "
        f"flight columns, {flown['nights']:.2f} with them: {flown['nights'] - plain['nights']:.2f} s added; peak "
        f"{plain['peak'] / MEGABYTE:,.0f} MB without, {flown['peak'] / MEGABYTE:,.0f} MB with"
    )
    for name in CARRY_TABLES:
        print(f"  {name:<28} {flown[name]:6.2f} s")


if __name__ == "__main__":
    print(json.dumps(build_all(Home(Path(sys.argv[1])), with_flight=sys.argv[2] == "with")))
