"""Sessions that stand open while the published file is swung: no error, no page of two nights, the newest at once."""

from __future__ import annotations

from pathlib import Path

import browsing

from tests.benchmarks import sessions

LONGEST = 480
"""Seconds after which the three publications are taken to hang."""


def test_eight_sessions_read_through_three_publications_and_old_versions_are_let_go(home: Path, tmp_path: Path) -> None:
    own, source = sessions.prepared(home, tmp_path)
    port = browsing.free_port()
    process = browsing.start(own.path, port)
    try:
        seen = sessions.measure(source, 8, 0.2, (f"http://localhost:{port}", process), own, LONGEST)
        still_held = sessions.held(process)
    finally:
        browsing.end(process)
    assert seen.faults == []
    assert seen.behind == 0
    assert set(seen.latest.values()) == {3}
    assert "night_003.duckdb" in still_held
    assert len(still_held) <= 2  # the newest, and the one before it for pages that began with it
