"""What each step of the last run cost stands in the published file."""

from __future__ import annotations

from pathlib import Path

import duckdb

from tests.pipelines.killed_night import PUBLISHED, night
from warehouse.audit import audit
from warehouse.build.model import models

STEPS = "select step, seconds, rows, bytes from ops.run_step"


def test_every_step_before_the_publication_has_its_seconds_rows_and_bytes(undisturbed, home: Path) -> None:
    done = night(home)
    assert done.outcome in PUBLISHED, done.message
    with duckdb.connect((home / "published" / "current.duckdb").resolve(), read_only=True) as opened:
        steps = {
            row[0]: row[1:] for row in opened.execute("select step, seconds, rows, bytes from ops.run_step").fetchall()
        }
        assert set(steps) == {
            "reference_tables", "notebook_entries", "exports", "nights",
            *(model.name for model in models().values() if not model.by_night),
        }  # fmt: skip
        for name, (seconds, rows, _) in steps.items():
            assert seconds >= 0
            if "." in name:
                assert opened.execute(f"select count(*) from {name}").fetchone() == (rows,)
        late = [path for path in (home / "landing" / "shots").rglob("*") if path.is_file()]
        assert 0 < steps["exports"][2] < sum(path.stat().st_size for path in late)
        (read,) = opened.execute(
            "select sum(rows_loaded) from ops.export_file where read_at >= "
            "(select started_at from ops.run_step where step = 'exports')"
        ).fetchone()
        assert steps["exports"][1] == read > 0
        (built,) = opened.execute("select count(distinct night) from core.shot").fetchone()
        assert built == 7 and steps["nights"][1] > 0

        checks = opened.execute("select sum(checks), sum(checks_warned) from ops.run_step").fetchone()
        made = [check for check in audit.checks() if check.table in models()]
        assert checks == (len(made), opened.execute("select count(*) from ops.check_result").fetchone()[0])
        noted = opened.execute(
            "select rows_loaded, bytes_read, checks, checks_warned, seconds from ops.publication "
            "order by published_at desc limit 1"
        ).fetchone()
        assert noted[:4] == (*steps["exports"][1:], *checks)
        assert max(seconds for seconds, _, _ in steps.values()) < noted[4] < 600

    assert night(home).outcome in PUBLISHED
    nothing = "select coalesce(rows, -1), coalesce(bytes, 0) from ops.run_step where step in ('exports', 'nights')"
    with duckdb.connect((home / "published" / "current.duckdb").resolve(), read_only=True) as opened:
        assert opened.execute(nothing).fetchall() == [(0, 0), (0, 0)]
