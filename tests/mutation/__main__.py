"""Change one thing in a room, run that room's tests, put it back: `python -m tests.mutation [ROOM …] --sample N`.

A sample is seeded, so that the same commit draws the same changes. What survives is printed with its line; the last
line counts. Changes are made by a kept tool (cosmic-ray) in the files of this checkout, one at a time, and always
put back. Ends with 0 whatever survives: a survivor is a question to a person, not a fault of the commit.
"""

from __future__ import annotations

import argparse
import random
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from cosmic_ray import plugins
from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import use_mutation

ROOT = Path(__file__).parents[2]
SECONDS = 300
ROOMS: dict[str, tuple[str, tuple[str, ...]]] = {
    "drill_effect": ("warehouse/domain/drill_effect", ("tests/reference", "tests/warehouse/domain/drill_effect")),
    "statistics": (
        "warehouse/domain/statistics",
        ("tests/warehouse/domain/statistics", "tests/reference", "tests/warehouse/domain/drill_effect"),
    ),
    "change": ("warehouse/domain/change", ("tests/warehouse/domain/change",)),
    "bays": ("warehouse/domain/bays", ("tests/warehouse/domain/bays",)),
    "flight": ("warehouse/domain/flight", ("tests/warehouse/domain/flight",)),
    "delivery": ("warehouse/domain/delivery", ("tests/warehouse/domain/delivery",)),
    "trials": ("warehouse/trials", ("tests/warehouse/trials",)),
    "trial_mathematics": ("warehouse/domain/trials", ("tests/warehouse/domain/trials",)),
    "audit": ("warehouse/audit", ("tests/warehouse/audit",)),
}
"""Room -> where its code is, which tests are asked."""
OPERATORS = tuple(
    f"core/{name}"
    for name in (
        "ReplaceBinaryOperator_Add_Sub", "ReplaceBinaryOperator_Sub_Add", "ReplaceBinaryOperator_Mul_Div",
        "ReplaceBinaryOperator_Div_Mul", "ReplaceComparisonOperator_Lt_LtE", "ReplaceComparisonOperator_LtE_Lt",
        "ReplaceComparisonOperator_Gt_GtE", "ReplaceComparisonOperator_GtE_Gt", "ReplaceComparisonOperator_Gt_Lt",
        "ReplaceComparisonOperator_Lt_Gt", "ReplaceComparisonOperator_Eq_NotEq", "ReplaceComparisonOperator_NotEq_Eq",
        "ReplaceUnaryOperator_Delete_USub", "ReplaceUnaryOperator_Delete_Not", "ReplaceUnaryOperator_Delete_Invert",
        "ReplaceAndWithOr", "ReplaceOrWithAnd", "ReplaceTrueWithFalse", "ReplaceFalseWithTrue", "NumberReplacer",
    )
)  # fmt: skip


@dataclass(frozen=True)
class Change:
    """One place at which one operator can change a file."""

    path: Path
    operator: str
    occurrence: int
    line: int


def changes(folder: Path) -> list[Change]:
    """List every place in a folder's files that an operator can change."""
    known = set(plugins.operator_names())
    found = []
    for path in sorted(folder.rglob("*.py")):
        nodes = list(ast_nodes(get_ast(path.read_text(encoding="utf-8"))))
        for name in OPERATORS:
            if name not in known:
                continue
            operator = plugins.get_operator(name)()
            places = [begin for node in nodes for begin, _ in operator.mutation_positions(node)]
            found += [Change(path, name, n, line) for n, (line, _) in enumerate(places)]
    return found


def survives(change: Change, tests: tuple[str, ...]) -> bool | None:
    """Make a change, run the tests, put it back; None where nothing could be changed."""
    operator = plugins.get_operator(change.operator)()
    with use_mutation(change.path, operator, change.occurrence) as (_, changed):
        if changed is None:
            return None
        command = [sys.executable, "-m", "pytest", "-n", "0", "-x", "-q", "-p", "no:cacheprovider", *tests]
        try:
            done = subprocess.run(command, cwd=ROOT, capture_output=True, timeout=SECONDS, check=False)
        except subprocess.TimeoutExpired:
            return False
        return done.returncode == 0


def try_room(room: str, sample: int, seed: int) -> tuple[int, int]:
    """Try a sample of a room's changes; return how many were made and how many survived."""
    folder, tests = ROOMS[room]
    every = changes(ROOT / folder)
    chosen = random.Random(f"{seed} {room}").sample(every, min(sample, len(every)))
    made = left = 0
    for change in chosen:
        survived = survives(change, tests)
        made += survived is not None
        if survived:
            left += 1
            source = change.path.read_text(encoding="utf-8").splitlines()[change.line - 1].strip()
            place = f"{change.path.relative_to(ROOT)}:{change.line}"
            print(f"survived: {place} {change.operator[5:]}: {source}", flush=True)
    print(f"{room}: {left} of {made} survived ({len(every)} places)", flush=True)
    return made, left


def main() -> None:
    """Try the rooms asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("rooms", nargs="*", metavar="ROOM", help=f"one of: {', '.join(ROOMS)}; none: all")
    parser.add_argument("--sample", type=int, default=20, help="changes a room (20)")
    parser.add_argument("--seed", type=int, default=1, help="which sample (1)")
    asked = parser.parse_args()
    unknown = set(asked.rooms) - set(ROOMS)
    if unknown:
        parser.error(f"no room {', '.join(sorted(unknown))}; rooms: {', '.join(ROOMS)}")
    began = time.monotonic()
    counts = [try_room(room, asked.sample, asked.seed) for room in asked.rooms or ROOMS]
    made, left = (sum(pair[n] for pair in counts) for n in (0, 1))
    print(f"{left} of {made} changes survived in {time.monotonic() - began:.0f} s", flush=True)


if __name__ == "__main__":
    main()
