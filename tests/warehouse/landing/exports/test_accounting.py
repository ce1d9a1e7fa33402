"""Whatever is done to a file: rows read = loaded + rejected + duplicate, and other files are as if alone."""

from __future__ import annotations

import gzip
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.warehouse.landing.conftest import ANY_LOSS, HEADER, shot

LINES = st.sampled_from(
    [
        shot(1), shot(2), shot(2), shot(3, ball="x"), shot(4, ball=""), shot(5, ball=500), shot(90000), "\n", "\n\n",
        shot(6, club="putter"), shot(7).replace("007", '"a\nb"'), shot(8).replace("007", '"open'), "a,b\n", ",,,,,\n",
        shot(9).replace("\n", "\r\n"), shot(10).replace("\n", "\r"), shot(11).replace("\n", ",more\n"), " \n", '""\n',
    ]
)  # fmt: skip
EDITS = st.lists(st.tuples(st.floats(0, 1), st.binary(max_size=3), st.integers(0, 5)), max_size=4)


def edited(content: bytes, edits: list[tuple[float, bytes, int]]) -> bytes:
    """Return content with bytes cut out and others put in, below the header."""
    head, body = content[: len(HEADER)], content[len(HEADER) :]
    for where, put, cut in edits:
        at = int(where * len(body))
        body = body[:at] + put + body[at + cut :]
    return head + body


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(lines=st.lists(LINES, max_size=12), edits=EDITS, packed=st.booleans())
def test_every_row_of_a_spoiled_file_is_accounted_for_and_its_neighbour_is_untouched(
    new_academy: Any, lines: list[str], edits: list[tuple[float, bytes, int]], packed: bool
) -> None:
    academy = new_academy()
    content = edited((HEADER + "".join(lines)).encode(), edits)
    spoiled = academy.export("01.csv.gz" if packed else "01.csv", gzip.compress(content) if packed else content)
    academy.export("02.csv", HEADER + shot(1) + shot(2, ball="x") + shot(1))
    academy.night(limits=ANY_LOSS)
    counts = academy.rows(
        "select path, rows_read, rows_loaded, rows_rejected, rows_duplicate, "
        "(select count(*) from raw.shot as s where s.path = e.path), "
        "(select count(*) from raw.rejected_row as r where r.path = e.path), status "
        "from raw.export_file as e order by all"
    )
    assert counts[1][1:] == (3, 1, 1, 1, 1, 1, "loaded")
    path, read, loaded, rejected, duplicate, shots, faults, status = counts[0]
    assert path == spoiled
    assert (read, loaded, rejected) == (loaded + rejected + duplicate, shots, faults)
    assert status == "loaded" or loaded == 0
    ends = content.replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n")
    assert read <= sum(bool(line) for line in ends[1:])
    places = academy.rows(f"select line from raw.shot where path = '{spoiled}' union all "
                          f"select line from raw.rejected_row where path = '{spoiled}'")  # fmt: skip
    assert len(places) == len(set(places))
    assert all(1 < line <= len(ends) and ends[line - 1] for (line,) in places)
