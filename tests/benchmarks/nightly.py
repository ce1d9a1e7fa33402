"""How long a night and a rebuild take beside a bare load of the same files: `python -m tests.benchmarks.nightly`.

A history is loaded, then one night of 100,000 shots in 40 files arrives and is brought to the published file by
`academy nightly` as a fresh process, then everything is built again from the landing folder. Each is measured beside
one `read_csv` of the same files into a new DuckDB file, in the same run, so that a slow machine slows both.
"""

from __future__ import annotations

import argparse
import os
import shutil
import sys
import tempfile
from pathlib import Path

from tests.benchmarks import growing_home
from tests.benchmarks.measured import Measured, bare_load, middle, run
from warehouse.home import Home

PUBLISHED = {0, 3}
MEGABYTE = 1_000_000
STEPS_SHOWN = 12


def nightly(home: Path, *options: str) -> Measured:
    """Run `academy nightly` on a home as a fresh process; it must publish."""
    command = [sys.executable, "-m", "pipelines", "nightly", "--home", str(home), *options]
    done = run(command, home.with_suffix(".out"))
    if done.code not in PUBLISHED:
        raise RuntimeError(f"`academy nightly` ended with {done.code}: {done.said}")
    return done


def tell(what: str, measured: list[Measured], bare: list[Measured]) -> None:
    """Print one line: seconds, the bare load's seconds, and their ratios."""
    wall, processor = middle(measured)
    bare_wall, bare_processor = middle(bare)
    peak = max(one.peak_bytes for one in measured) / MEGABYTE
    print(
        f"{what:<28} wall {wall:7.2f} s (bare {bare_wall:6.2f}, ratio {wall / bare_wall:5.1f})   "
        f"processor {processor:7.2f} s (bare {bare_processor:6.2f}, ratio {processor / bare_processor:5.1f})   "
        f"peak {peak:6.0f} MB",
        flush=True,
    )


def tell_steps(home: Home) -> None:
    """Print the slowest steps of the home's last run, from Dagster's own record of it."""
    import dagster as dg

    os.environ["DAGSTER_HOME"] = str(home.private / "dagster")
    with dg.DagsterInstance.get() as instance:
        last = instance.get_runs(limit=1)[0]
        steps = [step for step in instance.get_run_step_stats(last.run_id) if step.start_time and step.end_time]
        whole = instance.get_run_stats(last.run_id)
    taken = sorted(((step.end_time - step.start_time, step.step_key) for step in steps), reverse=True)
    inside = sum(seconds for seconds, _ in taken)
    print(f"    {len(steps)} steps, {inside:.2f} s inside them of a run of {whole.end_time - whole.start_time:.2f} s")
    for seconds, name in taken[:STEPS_SHOWN]:
        print(f"    {seconds:7.2f} s  {name}", flush=True)


def tell_sizes(home: Home, exports: list[Path]) -> None:
    """Print the sizes of exports, private databases and the published file."""
    sizes = {
        "exports": sum(path.stat().st_size for path in exports),
        "private": sum(path.stat().st_size for path in home.private.glob("*.duckdb")),
        "published": home.current.stat().st_size,
    }
    print("    " + ", ".join(f"{name} {size / MEGABYTE:,.0f} MB" for name, size in sizes.items()), flush=True)


def measure(folder: Path, shots: int, repeats: int) -> None:
    """Build the history, then measure its load, the night and the rebuild."""
    base, waiting = Home(folder / "history"), folder / "waiting"
    if not waiting.exists():
        growing_home.write_landing(base.landing, waiting, shots)
    if not base.current.exists():
        files = growing_home.exports(base.landing)
        bare = [bare_load(files, folder / "bare.duckdb")]
        tell(f"first load of {shots:,}", [nightly(base.path)], bare)
        tell_sizes(base, files)
    nights, bare = [], []
    for number in range(repeats):
        home = Home(folder / f"night_{number}")
        shutil.rmtree(home.path, ignore_errors=True)
        shutil.copytree(base.path, home.path, symlinks=True)
        files = growing_home.land(waiting, home.landing)
        bare.append(bare_load(files, folder / "bare.duckdb"))
        nights.append(nightly(home.path))
        if number < repeats - 1:
            shutil.rmtree(home.path)
    tell(f"night of 100,000 on {shots:,}", nights, bare)
    tell_steps(home)
    tell_sizes(home, growing_home.exports(home.landing))
    files = growing_home.exports(home.landing)
    bare = [bare_load(files, folder / "bare.duckdb") for _ in range(repeats)]
    tell(f"rebuild of {shots + growing_home.NIGHT_SHOTS:,}", [nightly(home.path, "--rebuild")], bare)
    tell_steps(home)
    tell_sizes(home, files)


def main() -> None:
    """Measure in a temporary folder, or in one that is kept so that its history serves again."""
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--shots", type=int, default=1_000_000, help="shots of history (try 10000000 too)")
    arguments.add_argument("--repeats", type=int, default=3, help="times the night and its bare load are measured")
    arguments.add_argument("--folder", type=Path, help="work here and keep it; else a temporary folder")
    asked = arguments.parse_args()
    with tempfile.TemporaryDirectory(prefix="benchmark-") as temporary:
        folder = (asked.folder or Path(temporary)).absolute()
        folder.mkdir(parents=True, exist_ok=True)
        measure(folder, asked.shots, asked.repeats)


if __name__ == "__main__":
    main()
