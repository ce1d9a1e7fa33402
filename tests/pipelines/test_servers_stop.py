"""What stops the command stops the server that it started: nothing is left behind on the port."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.clock import PATIENCE
from tests.ports import free_port


def answers(port: int) -> bool:
    """Whether anything listens on a port of this machine."""
    with socket.socket() as tried:
        return tried.connect_ex(("127.0.0.1", port)) == 0


def wait_until(port: int, up: bool) -> None:
    """Wait until a port answers, or no longer does."""
    end = time.monotonic() + PATIENCE
    while answers(port) is not up:
        assert time.monotonic() < end, f"port {port} {'never answered' if up else 'still answers'}"
        time.sleep(0.1)


@pytest.mark.parametrize("ended_by", [signal.SIGTERM, signal.SIGINT])
def test_a_dashboard_ends_with_its_command(tmp_path: Path, ended_by: signal.Signals) -> None:
    port = free_port()
    command = [sys.executable, "-m", "pipelines", "dashboard", "--home", str(tmp_path), "--port", str(port)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True) as started:
        try:
            wait_until(port, up=True)
            started.send_signal(ended_by)
            said, _ = started.communicate(timeout=PATIENCE)
        finally:
            started.kill()
    wait_until(port, up=False)
    assert f"http://127.0.0.1:{port}" in said and "Traceback" not in said
    assert started.returncode in (0, -ended_by)


@pytest.mark.parametrize("after", [0.4, 1.2])
def test_ctrl_c_while_a_dashboard_still_loads_ends_it_without_a_word(tmp_path: Path, after: float) -> None:
    port = free_port()
    command = [sys.executable, "-m", "pipelines", "dashboard", "--home", str(tmp_path), "--port", str(port)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True) as started:
        try:
            assert started.stdout is not None
            # Once it has said where it will be, the command has become its server.
            said = started.stdout.readline()
            time.sleep(after)
            started.send_signal(signal.SIGINT)
            more, _ = started.communicate(timeout=PATIENCE)
        finally:
            started.kill()
    assert f"http://127.0.0.1:{port}" in said and "Traceback" not in more
    assert started.returncode in (0, -signal.SIGINT)
