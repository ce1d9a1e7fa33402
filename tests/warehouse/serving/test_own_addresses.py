"""A server is asked by its own names: what a page elsewhere, or a name made to point here, sends is refused."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest

from warehouse.serving.own_addresses import Addresses, OwnAddressesOnly, addresses, host_name

FOREIGN_HOSTS = (
    "elsewhere.example", "elsewhere.example:8501", "localhost.elsewhere.example", "127.0.0.1.elsewhere.example", "",
    "169.254.169.254", "localhost@elsewhere.example", "localhost:x", "[::1].elsewhere.example",
)  # fmt: skip
FOREIGN_ORIGINS = ("http://elsewhere.example", "https://localhost.elsewhere.example", "null", "file://", "http://",
                   "http://localhost:1", "chrome-extension://abc")  # fmt: skip


@pytest.mark.parametrize("host", ["localhost", "LOCALHOST:8501", "127.0.0.1:3000", "[::1]:8501", "localhost."])
def test_this_machine_is_known(host: str) -> None:
    assert addresses("127.0.0.1").knows_host(host)


@pytest.mark.parametrize("host", FOREIGN_HOSTS)
def test_another_name_is_not_known(host: str) -> None:
    assert not addresses("localhost").knows_host(host)


def test_a_server_of_every_address_is_asked_by_number_or_by_a_name_that_is_set() -> None:
    known = addresses("0.0.0.0", ["pages.academy.example", "*.site.example"], ["https://front.academy.example/"])
    asked = ("192.168.1.4:8501", "pages.academy.example", "a.site.example:443", "front.academy.example", "[fe80::1]")
    assert [known.knows_host(one) for one in asked] == [True] * 5
    assert not known.knows_host("site.example")
    assert not known.knows_host("elsewhere.example")
    assert known.knows_origin("https://front.academy.example", "127.0.0.1:8501")
    assert not known.knows_origin("http://front.academy.example", "127.0.0.1:8501")


@pytest.mark.parametrize("origin", FOREIGN_ORIGINS)
def test_a_page_of_another_server_is_not_known(origin: str) -> None:
    assert not addresses("localhost").knows_origin(origin, "localhost:8501")


def test_an_own_page_and_a_request_of_no_page_are_known() -> None:
    known = addresses("localhost")
    assert known.knows_origin("http://localhost:8501", "localhost:8501")
    assert known.knows_origin(None, "localhost:8501")


def test_a_name_is_read_without_port_and_closing_dot() -> None:
    assert [host_name(one) for one in ("A.b:80", "a.", None, "a/b", "a?b")] == ["a.b", "a", None, None, None]


def asked(headers: list[tuple[bytes, bytes]], kind: str = "http") -> list[dict[str, Any]]:
    """Return what a guarded server sends for a request."""
    sent: list[dict[str, Any]] = []

    async def app(scope: dict[str, Any], receive: Any, send: Any) -> None:
        await send({"type": "http.response.start", "status": 200, "headers": [(b"X-Frame-Options", b"ALLOW")]})

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    asyncio.run(OwnAddressesOnly(app, Addresses())({"type": kind, "headers": headers}, None, send))  # type: ignore[arg-type]
    return sent


def test_an_answer_is_hardened_in_place_of_what_the_app_says() -> None:
    (start,) = asked([(b"host", b"localhost")])
    headers = dict(start["headers"])
    assert start["status"] == 200
    assert headers[b"x-frame-options"] == b"DENY"
    assert b"X-Frame-Options" not in headers


def test_two_host_headers_or_none_are_refused() -> None:
    assert asked([(b"host", b"localhost"), (b"host", b"elsewhere.example")])[0]["status"] == 403
    assert asked([])[0]["status"] == 403


def test_a_connection_from_another_page_is_closed_before_it_opens() -> None:
    sent = asked([(b"host", b"localhost"), (b"origin", b"http://elsewhere.example")], "websocket")
    assert [one["type"] for one in sent] == ["websocket.close"]
