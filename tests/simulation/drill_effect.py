"""The simulation study: `python -m tests.simulation.drill_effect [--academies N] [--seed S] [--scenario NAME]`.

Draws academies with known truth, runs the engine over each and prints how it did beside the naive reading (after minus
before) and plain covariance adjustment. The same seed prints the same table. Not here: drawing (`academies`), judging
(`score`, `forecasts`, `bays`).
"""

from __future__ import annotations

import argparse
import time
from typing import NamedTuple

import polars as pl

from tests.simulation import academies, bays, cells, forecasts, rows, score
from tests.simulation.scenario import SCENARIOS, Scenario
from warehouse.domain.drill_effect import forecast, headline


class Study(NamedTuple):
    """Everything judged: effect `cells`, `forecasts`, `bays`, each a row per thing estimated, all academies."""

    cells: pl.DataFrame
    forecasts: pl.DataFrame
    bays: pl.DataFrame


def study(scenarios: list[Scenario], count: int, seed: int = 0) -> Study:
    """Draw `count` academies of each scenario, estimate, and judge."""
    judged, predicted, offsets = [], [], []
    for scenario in scenarios:
        for number in range(seed, seed + count):
            academy = academies.draw(number, scenario)
            frames = rows.frames(academy)
            logged = rows.as_logged(academy, frames.episodes)
            effects = headline.estimate(logged)
            judged.append(score.judged(effects, cells.table(frames), frames, academy))
            predicted.append(forecasts.score(forecast.forecast(logged, effects), academy))
            offsets.append(bays.score(frames, academy))
    return Study(*(pl.concat(part, how="vertical_relaxed") for part in (judged, predicted, offsets)))


def report(result: Study) -> str:
    """Write the tables of one study as text."""
    lines = []
    for (name,), part in result.cells.group_by(["scenario"], maintain_order=True):
        lines += [f"\n== {name}: {part['seed'].n_unique()} academies, {part.height} cells", _effects(part)]
        rank = score.first_rank(part)
        lines.append(
            f"best drill first: {rank['first']:.2f} of {rank['sets']:.0f} sets of three or more; clearly best (half a "
            f"smallest change ahead): {rank['clear']:.2f} of {rank['clear_sets']:.0f} (naive {rank['naive_clear']:.2f})"
            f"; within a quarter of the best: {rank['near']:.2f}"
        )
        mine = result.forecasts.filter(scenario=name)
        lines.append(
            f"80% forecasts held: {mine['inside'].mean():.3f} of {mine.height}; new to the drill "
            f"{mine.filter('new')['inside'].mean():.3f}; not new {mine.filter(~pl.col('new'))['inside'].mean():.3f}"
        )
        bay = result.bays.filter(scenario=name)
        lines.append(
            f"bay offsets: error {bays.error(bay):.3f} of raw bay means; 95% intervals held "
            f"{bay['inside'].mean():.3f} of {bay.height}; steady bays called drifting {bay['drifting'].mean():.4f}"
        )
    return "\n".join(lines)


def _effects(part: pl.DataFrame) -> str:
    head = (
        f"{'':9} {'':16} {'cover':>6} {'aims':>6} {'nulls':>6} {'bias':>6} {'false':>6} {'of':>4} {'power':>6} "
        f"{'error':>6} {'aims':>6} {'/naive':>6} {'aims':>6}"
    )
    lines = [head]
    for row in score.summary(part).iter_rows(named=True):
        numbers = {key: float("nan") if value is None else value for key, value in row.items()}
        lines.append(
            "{horizon:9} {method:16} {coverage:6.3f} {aim_coverage:6.3f} {null_aim_coverage:6.3f} {aim_bias:6.2f} "
            "{false_discoveries:6.3f} {called:4d} {power:6.2f} {rmse:6.3f} {aim_rmse:6.3f} {of_naive:6.2f} "
            "{aim_of_naive:6.2f}".format(**numbers)
        )
    return "\n".join(lines)


def main() -> None:
    """Read the command line, run, print."""
    parser = argparse.ArgumentParser(description="Does the evidence engine find the truth it was not told?")
    parser.add_argument("--academies", type=int, default=24, help="of each scenario")
    parser.add_argument("--seed", type=int, default=0, help="of the first academy")
    parser.add_argument("--scenario", choices=[*SCENARIOS, "all"], default="all")
    parser.add_argument("--cells", help="write every judged cell to this Parquet file")
    chosen = parser.parse_args()
    begun = time.perf_counter()
    scenarios = list(SCENARIOS.values()) if chosen.scenario == "all" else [SCENARIOS[chosen.scenario]]
    result = study(scenarios, chosen.academies, chosen.seed)
    print(report(result))
    print("\nsizes in smallest changes that matter; /naive: error over that of after - before (spread left out)")
    print(f"{time.perf_counter() - begun:.0f} s")
    if chosen.cells:
        result.cells.write_parquet(chosen.cells)


if __name__ == "__main__":
    main()
