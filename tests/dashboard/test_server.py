"""The dashboard's server: known by its own names only, and hardened in every answer."""

from __future__ import annotations

import asyncio
import http.client
from urllib.parse import urlsplit

import pytest
import websockets

from tests.warehouse.serving.test_own_addresses import FOREIGN_HOSTS, FOREIGN_ORIGINS

PATHS = ("/", "/students?student=S001", "/sql", "/_stcore/health", "/_stcore/host-config", "/_stcore/metrics",
         "/media/none.csv", "/favicon.png", "/nowhere/at/all", "/_stcore/upload_file/a/b", "/auth/logout")  # fmt: skip


def ask(address: str, path: str, **headers: str) -> http.client.HTTPResponse:
    """Ask the server for a path with headers of our own."""
    connection = http.client.HTTPConnection(urlsplit(address).netloc, timeout=20)
    connection.putrequest("GET", path, skip_host="Host" in headers)
    for name, value in headers.items():
        connection.putheader(name, value)
    connection.endheaders()
    answer = connection.getresponse()
    answer.read()
    return answer


def opens(address: str, host: str | None = None, origin: str | None = None) -> bool:
    """Return whether the pages' own connection is opened."""
    to = urlsplit(address)

    async def tried() -> bool:
        try:
            connecting = websockets.connect(
                f"ws://{host or to.netloc}/_stcore/stream", host=to.hostname, port=to.port, origin=origin,
                subprotocols=["streamlit"],
            )  # fmt: skip
            async with connecting:
                return True
        except websockets.InvalidStatus:
            return False

    return asyncio.run(tried())


@pytest.mark.parametrize("path", PATHS)
def test_every_answer_lets_a_page_fetch_from_this_server_only(path: str, address: str) -> None:
    policy = ask(address, path).headers["Content-Security-Policy"]
    told = {rule.split(" ", 1)[0]: rule.split(" ", 1)[1] for rule in policy.split("; ")}
    assert told["img-src"] == "'self' data:"
    assert told["connect-src"] == "'self'"
    assert told["frame-ancestors"] == "'none'"
    assert told["default-src"] == told["form-action"] == "'self'"
    assert told["object-src"] == told["frame-src"] == "'none'"
    assert "unsafe" not in told["script-src"]


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("host", FOREIGN_HOSTS)
def test_a_request_under_another_name_is_refused_whatever_it_asks_for(path: str, host: str, address: str) -> None:
    answer = ask(address, path, Host=host)
    assert answer.status == 403
    assert answer.headers["Content-Security-Policy"]


@pytest.mark.parametrize("origin", FOREIGN_ORIGINS)
def test_a_request_from_another_page_is_refused(origin: str, address: str) -> None:
    assert ask(address, "/", Origin=origin).status == 403
    assert not opens(address, origin=origin)


def test_the_pages_own_connection_opens_under_the_servers_names_only(address: str) -> None:
    port = urlsplit(address).port
    assert opens(address, origin=address)
    assert opens(address, host=f"127.0.0.1:{port}", origin=f"http://127.0.0.1:{port}")
    assert not opens(address, host=f"elsewhere.example:{port}", origin=f"http://elsewhere.example:{port}")
