"""Alerts: a program started without a shell, ended in time, whose failure stops nothing."""

from __future__ import annotations

import http.server
import json
import os
import socket
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import ClassVar

import pytest

from pipelines.care import alerts
from pipelines.runs import one_machine
from tests.clock import PATIENCE
from warehouse.home import Home
from warehouse.settings.settings import Alerts, SettingsFault, load

KEEP = "import sys, pathlib; pathlib.Path(sys.argv[1]).write_text(sys.stdin.read())"


def home_with(folder: Path, command: list[str], seconds: int = 30) -> Home:
    folder.mkdir(exist_ok=True)
    (folder / "academy.toml").write_text(f"[alerts]\ncommand = {json.dumps(command)}\ntimeout_seconds = {seconds}\n")
    return Home(folder)


def test_a_night_that_does_not_publish_is_told_to_the_command(tmp_path: Path) -> None:
    said = tmp_path / "said.json"
    home = home_with(tmp_path / "home", [sys.executable, "-c", KEEP, str(said)])
    night = one_machine.run(home)
    assert night.outcome == one_machine.Outcome.NOT_PUBLISHED
    told = json.loads(said.read_text())
    assert (told["event"], told["message"], told["home"]) == ("failure", night.message, "home")


def test_arguments_are_never_a_shell_s(tmp_path: Path) -> None:
    said = tmp_path / "$(touch hurt); said"
    fault = alerts.send(Alerts(command=[sys.executable, "-c", KEEP, str(said)]), "failure", "'; touch hurt #")
    assert fault is None
    assert json.loads(said.read_text())["message"] == "'; touch hurt #"
    assert not (tmp_path / "hurt").exists()
    assert not Path("hurt").exists()


def still_runs(process: int) -> bool:
    """Return whether a process runs; one that has ended may stay to be asked for its exit code."""
    try:
        return Path(f"/proc/{process}/stat").read_text().split(")")[1].split()[0] not in "ZX"
    except OSError:
        return False


def test_a_command_that_hangs_is_ended_with_all_it_started(tmp_path: Path) -> None:
    mark = tmp_path / "child"
    hangs = ["sh", "-c", 'sleep 600 & echo $! > "$0"; wait', str(mark)]
    began = time.monotonic()
    fault = alerts.send(Alerts(command=hangs, timeout_seconds=3), "failure", "x")
    assert fault is not None and "did not end within 3 s" in fault
    assert time.monotonic() - began < PATIENCE
    child = int(mark.read_text())
    while still_runs(child):
        assert time.monotonic() - began < PATIENCE
        time.sleep(0.05)


def test_a_command_that_fails_or_is_missing_is_a_sentence(tmp_path: Path) -> None:
    assert "ended with 3" in str(alerts.send(Alerts(command=[sys.executable, "-c", "exit(3)"]), "failure", "x"))
    assert "could not be started" in str(alerts.send(Alerts(command=[str(tmp_path / "none")]), "failure", "x"))
    assert alerts.send(Alerts(), "failure", "x") is None
    loud = [sys.executable, "-c", "import os; os.close(0)"]
    assert alerts.send(Alerts(command=loud), "failure", "x" * 10_000_000) is None


class Address(http.server.BaseHTTPRequestHandler):
    """Keeps what is posted to it and answers with the number at the end of the path."""

    got: ClassVar[list[tuple[str, dict]]] = []

    def do_POST(self) -> None:
        """Keep it."""
        body = self.rfile.read(int(self.headers["Content-Length"]))
        self.got.append((self.headers["Content-Type"], json.loads(body)))
        code = int(self.path.rsplit("/", 1)[1])
        self.send_response(code)
        if code == 302:
            self.send_header("Location", "/elsewhere/200")
        self.end_headers()

    def log_message(self, *_: object) -> None:
        """Say nothing."""


@pytest.fixture
def address() -> Iterator[str]:
    """Serve it on this machine."""
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), Address) as server:
        Address.got.clear()
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_port}/secret"
        server.shutdown()


def test_an_address_gets_the_same_json_by_post(address: str, tmp_path: Path) -> None:
    home = Home(tmp_path)
    (tmp_path / "academy.toml").write_text(f'[alerts]\nwebhook = "{address}/200"\n')
    done = one_machine.run(home)
    ((kind, told),) = Address.got
    assert kind == "application/json"
    assert (told["event"], told["message"], told["home"]) == ("failure", done.message, tmp_path.name)
    assert not any("alert" in warning for warning in done.warnings)


def test_an_address_that_refuses_moves_or_is_gone_is_a_sentence_without_the_address(address: str) -> None:
    for code in (302, 404, 500):
        fault = alerts.send(Alerts(webhook=f"{address}/{code}"), "failure", "x")
        assert fault is not None and f"answered {code}" in fault and "secret" not in fault
    assert len(Address.got) == 3, "a redirect is not followed"
    for gone in ("http://127.0.0.1:9/secret", "http://nowhere.invalid/secret", "http://[::1/secret"):
        fault = alerts.send(Alerts(webhook=gone, timeout_seconds=5), "failure", "x")
        assert fault is not None and "cannot be reached" in fault and "secret" not in fault


def test_an_address_that_does_not_answer_is_given_up() -> None:
    with socket.create_server(("127.0.0.1", 0)) as silent:
        began = time.monotonic()
        gone = f"http://127.0.0.1:{silent.getsockname()[1]}/x"
        fault = alerts.send(Alerts(webhook=gone, timeout_seconds=1), "failure", "x")
    assert fault is not None and "cannot be reached" in fault
    assert time.monotonic() - began < PATIENCE


@pytest.mark.parametrize("wrong", ["file:///etc/passwd", "ftp://x/y", "tell us"])
def test_an_address_that_is_none_is_refused_by_the_settings(wrong: str, tmp_path: Path) -> None:
    (tmp_path / "academy.toml").write_text(f'[alerts]\nwebhook = "{wrong}"\n')
    with pytest.raises(SettingsFault, match=r"alerts\.webhook"):
        load(tmp_path)


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
