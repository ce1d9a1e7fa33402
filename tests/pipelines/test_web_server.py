"""Dagster's own pages answer to this machine's names only, and change nothing unless asked to."""

from __future__ import annotations

import json
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator

import pytest

from pipelines.lakehouse.serving import Part, command
from tests.clock import PATIENCE
from tests.ports import free_port
from tests.warehouse.serving.test_own_addresses import FOREIGN_HOSTS, FOREIGN_ORIGINS

STOPPING = 'mutation { stopRunningSchedule(scheduleSelector: {%s, scheduleName: "nightly"}) { __typename } }'
WHERE = 'repositoryName: "__repository__", repositoryLocationName: "pipelines.serve"'


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve an empty home as `academy serve` does: pages, schedules and sensors."""
    home, port = tmp_path_factory.mktemp("served"), free_port()
    started = [sys.executable, "-m", "pipelines", "serve", "--home", str(home), "--port", str(port)]
    with subprocess.Popen(started, stdout=subprocess.DEVNULL, stderr=subprocess.STDOUT) as server:
        try:
            wait_for(f"http://127.0.0.1:{port}", server)
            yield f"http://127.0.0.1:{port}"
        finally:
            server.terminate()
            server.wait(timeout=PATIENCE)


def wait_for(address: str, server: subprocess.Popen[bytes]) -> None:
    """Wait until the server answers."""
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        assert server.poll() is None, "the server ended while starting"
        try:
            urllib.request.urlopen(f"{address}/server_info", timeout=10).close()
            return
        except OSError:
            time.sleep(0.3)
    pytest.fail("the server did not answer")


def ask(address: str, path: str, body: dict | None = None, **headers: str) -> tuple[int, str]:
    """Return status and text of an answer."""
    data = json.dumps(body).encode() if body is not None else None
    request = urllib.request.Request(
        address + path, data, {"Content-Type": "application/json", **headers}, method="POST" if data else "GET"
    )
    try:
        with urllib.request.urlopen(request, timeout=PATIENCE) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as refused:
        return refused.code, refused.read().decode()


def test_its_own_pages_read(address: str) -> None:
    status, told = ask(address, "/graphql", {"query": "{ repositoriesOrError { __typename } }"})
    assert status == 200 and "RepositoryConnection" in told


@pytest.mark.parametrize("host", [host for host in FOREIGN_HOSTS if host])
def test_a_request_under_another_name_is_refused(host: str, address: str) -> None:
    assert ask(address, "/graphql", {"query": "{ version }"}, Host=host)[0] == 403
    assert ask(address, "/server_info", Host=host)[0] == 403


@pytest.mark.parametrize("origin", FOREIGN_ORIGINS)
def test_a_request_from_another_page_is_refused(origin: str, address: str) -> None:
    assert ask(address, "/graphql", {"query": STOPPING % WHERE}, Origin=origin)[0] == 403


def test_the_nightly_schedule_cannot_be_stopped_from_the_pages_unless_asked(address: str) -> None:
    status, told = ask(address, "/graphql", {"query": STOPPING % WHERE}, Origin=address)
    assert "UnauthorizedError" in told or "PermissionDenied" in told or status >= 400, told
    status, told = ask(address, "/report_asset_materialization/core/shot", {"metadata": {}}, Origin=address)
    assert status == 403, told


def test_pages_only_show_unless_asked_whichever_process_serves_them() -> None:
    for part in (Part.WEB, Part.ALL):
        asked = {"address": "127.0.0.1", "port": 1, "workers": "127.0.0.1:4000"}
        assert "--read-only" in command(part, **asked)
        assert "--read-only" not in command(part, **asked, changes=True)
        assert command(part, **asked)[:3] == [sys.executable, "-m", "pipelines.web_server"]
