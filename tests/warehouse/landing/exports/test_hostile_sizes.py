"""Files of hostile sizes cost what their bytes cost: read once, in time that grows with them, or refused in words.

Four megabytes are given ten seconds of a core; what is worse than linear took minutes of them.
"""

from __future__ import annotations

import time

import pytest

from tests.benchmarks.hostile_sizes import CASES, PROFILES
from tests.warehouse.landing.conftest import HEADER, PLAIN, Academy, shot
from warehouse.landing.lines.byte_scan import RefusedError
from warehouse.landing.lines.time_limit import within
from warehouse.settings.settings import Limits

SIZE, SECONDS = 4_000_000, 10
WORST = (
    "carriage returns only", "carriage returns, packed", "one line", "a header of names", "a JSON key a line",
    "many quotes opened on long lines", "a workbook, first and last cell", "zeros, packed",
)  # fmt: skip


@pytest.mark.parametrize("case", WORST)
def test_a_hostile_file_costs_seconds_and_its_neighbour_loads(academy: Academy, case: str) -> None:
    academy.table("bays", "bay_id,site_id,export_profile,setting,ball\n02,N,plain,indoor,range\n" + "".join(
        f"{bay},N,p{bay},indoor,range\n" for bay in PROFILES))  # fmt: skip
    for bay, file in PROFILES.items():
        academy.profile(f"p{bay}", file + PLAIN)
    name, make = CASES[case]
    academy.export(name, make(SIZE))
    academy.export("02.csv", HEADER + shot(1))
    began = time.process_time()
    summary = academy.night()
    assert time.process_time() - began < SECONDS
    by_path = {outcome.file.path.split("/")[1]: outcome for outcome in summary.outcomes}
    assert by_path["02.csv"].counts.loaded == 1
    assert by_path[name].counts.loaded <= 1


def test_a_file_that_takes_longer_than_it_may_is_refused_by_name_and_its_neighbour_loads(academy: Academy) -> None:
    academy.export("01.csv", HEADER + '"a","b\n' * 2_400_000)
    academy.export("02.csv", HEADER + shot(1))
    summary = academy.night(limits=Limits(file_seconds=4))
    slow, good = sorted(summary.outcomes, key=lambda outcome: outcome.file.path)
    assert slow.status == "refused" and "longer than 4 seconds" in (slow.reason or "")
    assert "limits.file_seconds" in (slow.reason or "")
    assert good.counts.loaded == 1


def test_the_clock_is_off_once_the_file_is_read() -> None:
    with within(0.05):
        pass
    time.sleep(0.1)
    with pytest.raises(RefusedError, match="longer than"), within(0.05):
        while True:
            pass


def test_more_columns_than_a_table_of_shots_has_are_refused(academy: Academy) -> None:
    academy.export("01.csv", HEADER.strip() + ",n" * 60 + "\n" + shot(1))
    (outcome,) = academy.night(limits=Limits(columns=50)).outcomes
    assert outcome.status == "refused" and "more than 50 columns (66)" in (outcome.reason or "")


def test_lines_that_end_in_a_carriage_return_alone_are_read_at_the_end_of_a_slice_too(academy: Academy) -> None:
    rows = HEADER + "".join(shot(second % 3000, ball=50 + second / 1e6) for second in range(30_000))
    rows = rows.replace("\n", "\r")
    assert len(rows) > 1 << 20
    academy.export("01.csv", rows)
    (outcome,) = academy.night().outcomes
    assert (outcome.counts.read, outcome.counts.loaded) == (30_000, 30_000)
