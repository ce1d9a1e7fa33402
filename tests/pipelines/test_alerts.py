"""Alerts: a program started without a shell, ended in time, whose failure stops nothing."""

from __future__ import annotations

import json
import os
import sys
import time
from pathlib import Path

from pipelines import alerts, nightly
from warehouse.home import Home
from warehouse.settings import Alerts

KEEP = "import sys, pathlib; pathlib.Path(sys.argv[1]).write_text(sys.stdin.read())"


def home_with(folder: Path, command: list[str], seconds: int = 30) -> Home:
    folder.mkdir(exist_ok=True)
    (folder / "academy.toml").write_text(f"[alerts]\ncommand = {json.dumps(command)}\ntimeout_seconds = {seconds}\n")
    return Home(folder)


def test_a_night_that_does_not_publish_is_told_to_the_command(tmp_path: Path) -> None:
    said = tmp_path / "said.json"
    home = home_with(tmp_path / "home", [sys.executable, "-c", KEEP, str(said)])
    night = nightly.run(home)
    assert night.outcome == nightly.Outcome.NOT_PUBLISHED
    told = json.loads(said.read_text())
    assert (told["event"], told["message"], told["home"]) == ("failure", night.message, "home")


def test_arguments_are_never_a_shell_s(tmp_path: Path) -> None:
    said = tmp_path / "$(touch hurt); said"
    fault = alerts.send(Alerts(command=[sys.executable, "-c", KEEP, str(said)]), "failure", "'; touch hurt #")
    assert fault is None
    assert json.loads(said.read_text())["message"] == "'; touch hurt #"
    assert not (tmp_path / "hurt").exists()
    assert not Path("hurt").exists()


def test_a_command_that_hangs_is_ended_with_all_it_started(tmp_path: Path) -> None:
    mark = tmp_path / "child"
    script = f"import subprocess, time; c = subprocess.Popen(['sleep', '60']); open({str(mark)!r}, 'w').write(str(c.pid)); time.sleep(60)"  # noqa: E501
    began = time.monotonic()
    fault = alerts.send(Alerts(command=[sys.executable, "-c", script], timeout_seconds=3), "failure", "x")
    assert fault is not None and "did not end within 3 s" in fault
    assert time.monotonic() - began < 20
    child = int(mark.read_text())
    time.sleep(0.2)
    state = Path(f"/proc/{child}/stat")
    assert not state.exists() or state.read_text().split(")")[1].split()[0] in "ZX"


def test_a_command_that_fails_or_is_missing_is_a_sentence(tmp_path: Path) -> None:
    assert "ended with 3" in str(alerts.send(Alerts(command=[sys.executable, "-c", "exit(3)"]), "failure", "x"))
    assert "could not be started" in str(alerts.send(Alerts(command=[str(tmp_path / "none")]), "failure", "x"))
    assert alerts.send(Alerts(), "failure", "x") is None
    loud = [sys.executable, "-c", "import os; os.close(0)"]
    assert alerts.send(Alerts(command=loud), "failure", "x" * 10_000_000) is None


def test_late_bays_are_told_by_id_after_a_publication(undisturbed, home: Path, tmp_path: Path) -> None:
    said = tmp_path / "said.json"
    place = home_with(home, [sys.executable, "-c", KEEP, str(said)])
    bays = alerts.late_bays(place)
    assert alerts.after_night(place, "published", "published") == []
    assert said.exists() == bool(bays)
    if bays:
        assert json.loads(said.read_text())["bays"] == bays


def test_silence_is_noticed_after_the_hours_set(undisturbed, home: Path) -> None:
    place = home_with(home, [])
    assert alerts.silence(place) is None
    os.unlink(place.current)
    assert "nothing is published" in str(alerts.silence(place))
