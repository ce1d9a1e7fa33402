"""Words blanked in what runs wrote down: whatever an id is, JSON stays JSON and moments stay moments."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from warehouse.erasure.logs import GONE, blanked, forget_logs, pattern
from warehouse.home import Home

EVENT = {"at": "2026-01-12T03:12:00", "run": 12, "seconds": 12.5, "night": "2026-01-12",
         "said": ["lesson of 12", "120"], "12": {"of": "12"}}  # fmt: skip
LEFT = {"at": "2026-01-12T03:12:00", "run": 12, "seconds": 12.5, "night": "2026-01-12",
        "said": [f"lesson of {GONE}", "120"], GONE: {"of": GONE}}  # fmt: skip


def test_of_json_only_strings_are_blanked_and_moments_stay() -> None:
    assert json.loads(blanked(pattern(["12"]), json.dumps(EVENT))) == LEFT


@pytest.mark.parametrize(
    ("held", "left"),
    [
        ("12", GONE),
        ("lesson of 12, of 120 and of 12A", f"lesson of {GONE}, of 120 and of 12A"),
        ('{"seconds": 12, "at":  "2026-01-12"}', '{"seconds": 12, "at":  "2026-01-12"}'),
        ("{12 is no JSON", f"{{{GONE} is no JSON"),
        ('["Zo\\u00eb", "Zoë"]', f'["{GONE}", "{GONE}"]'),
    ],
)
def test_a_text_is_blanked_where_the_word_stands_alone(held: str, left: str) -> None:
    assert blanked(pattern(["12", "Zoë"]), held) == left


def test_logs_line_by_line_and_histories_are_read_again_after_a_student_whose_id_is_a_number(tmp_path: Path) -> None:
    home = Home(tmp_path)
    (home.private / "log").mkdir(parents=True)
    (home.private / "dagster" / "runs").mkdir(parents=True)
    home.published.mkdir()
    log, history = home.private / "log" / "academy.jsonl", home.private / "dagster" / "runs" / "a.db"
    log.write_text(f"{json.dumps(EVENT)}\n{json.dumps({'run': 12})}\nlesson of 12\n", encoding="utf-8")
    home.last_run.write_text(json.dumps(EVENT, indent=2), encoding="utf-8")
    with closing(sqlite3.connect(history, isolation_level=None)) as opened:
        opened.execute("create table event_logs (event text, timestamp text, number integer)")
        opened.execute("insert into event_logs values (?, '2026-01-12 03:12:00', 12)", [json.dumps(EVENT)])
    forget_logs(home, ["12"])
    first, second, third = log.read_text(encoding="utf-8").splitlines()
    assert (json.loads(first), second, third) == (LEFT, '{"run": 12}', f"lesson of {GONE}")
    assert json.loads(home.last_run.read_text(encoding="utf-8")) == LEFT
    with closing(sqlite3.connect(history)) as opened:
        event, *rest = opened.execute("select * from event_logs").fetchone()
    assert json.loads(event) == LEFT
    assert rest == ["2026-01-12 03:12:00", 12]
