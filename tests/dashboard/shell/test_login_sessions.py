"""A login counts while the server knows of it: until a logout, a set time without a tap, or a restart."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest
from starlette.requests import cookie_parser
from streamlit.proto.BackMsg_pb2 import BackMsg

from dashboard.shell.login_sessions import CLOSED, LoginSessions, kind_of

COOKIE = "_streamlit_user=made.login.one"
IDLE = 60.0


class Server:
    """Pages behind the layer, and a clock that stands until it is set.

    Attributes
    ----------
    seen
        The cookies that reached the pages.
    received
        The messages that reached the pages.
    """

    def __init__(self, login_is_set: bool = True) -> None:
        self.now, self.seen, self.received = 0.0, {}, []
        self.layer = LoginSessions(self.pages, lambda: login_is_set, lambda: IDLE)
        self.layer.LOOK = 0.01  # type: ignore[misc]

    async def pages(self, scope: dict[str, Any], receive: Any, send: Any) -> None:
        """Stand for the pages."""
        headers = [value.decode("latin-1") for name, value in scope["headers"] if name == b"cookie"]
        self.seen = {name: value for header in headers for name, value in cookie_parser(header).items()}
        if scope["type"] == "websocket":
            while True:
                message = await receive()
                self.received.append(message)
                if message["type"] == "websocket.disconnect":
                    return
        made = [(b"set-cookie", f"{COOKIE}; HttpOnly; Path=/".encode())] if scope["path"] == "/oauth2callback" else []
        await send({"type": "http.response.start", "status": 200, "headers": made})

    def ask(self, path: str, *cookies: str) -> int:
        """Ask for a path; return the status."""
        sent = asyncio.run(self._asked({"type": "http", "path": path, "headers": headers(cookies)}, []))
        return int(sent[0]["status"])

    def open(self, messages: list[Any], *cookies: str) -> list[dict[str, Any]]:
        """Open a page's own connection; messages come one by one, a number first sets the clock forward."""
        scope = {"type": "websocket", "path": "/_stcore/stream", "headers": headers(cookies)}
        return asyncio.run(self._asked(scope, [*messages, {"type": "websocket.disconnect"}]))

    async def _asked(self, scope: dict[str, Any], messages: list[Any]) -> list[dict[str, Any]]:
        sent: list[dict[str, Any]] = []
        await self._ready()

        async def receive() -> dict[str, Any]:
            while messages and isinstance(messages[0], float):
                self.now += messages.pop(0)
                await asyncio.sleep(0.05)
            return messages.pop(0)

        async def send(message: dict[str, Any]) -> None:
            sent.append(message)

        await self.layer(scope, receive, send)
        return sent

    async def _ready(self) -> None:
        if self.layer.logins is None:
            await self.layer({"type": "http", "path": "/", "headers": []}, None, _nowhere)  # type: ignore[arg-type]
            assert self.layer.logins is not None
            self.layer.logins.clock = lambda: self.now


async def _nowhere(message: dict[str, Any]) -> None:
    """Take what is sent."""


def headers(cookies: tuple[str, ...]) -> list[tuple[bytes, bytes]]:
    """Return cookies as a browser sends them."""
    return [(b"cookie", "; ".join(cookies).encode("latin-1"))] if cookies else []


def asking(kind: str, *, by_itself: bool = False) -> dict[str, Any]:
    """Return a page's message of a kind."""
    message = BackMsg()
    if kind == "rerun_script":
        message.rerun_script.is_auto_rerun = by_itself
        message.rerun_script.query_string = "x"
    elif kind == "install_skills":
        message.backend_operation_request.install_skills.SetInParent()
    elif kind == "backend_operation_request":
        message.backend_operation_request.request_id = "x"
    else:
        setattr(message, kind, True)
    return {"type": "websocket.receive", "bytes": message.SerializeToString()}


@pytest.fixture
def server() -> Server:
    """Serve with a login set, and somebody logged in."""
    made = Server()
    made.ask("/oauth2callback")
    return made


def test_a_login_made_here_counts_and_one_that_is_not_known_does_not(server: Server) -> None:
    server.ask("/", COOKIE, "theme=dark")
    assert server.seen == {"_streamlit_user": "made.login.one", "theme": "dark"}
    server.ask("/", "_streamlit_user=of.before.a.restart", "_streamlit_user_tokens=t", "theme=dark")
    assert server.seen == {"theme": "dark"}


def test_a_copied_cookie_is_worth_nothing_after_the_logout(server: Server) -> None:
    server.ask("/auth/logout", COOKIE)
    assert server.seen["_streamlit_user"], "the provider is told who leaves"
    server.ask("/", COOKIE)
    assert server.seen == {}


@pytest.mark.parametrize("strange", [
    "\xa0_streamlit_user=forged", "\x85_streamlit_user=forged", '_streamlit_user="forged"', "a=1,_streamlit_user=x",
    "_streamlit_user_1=part", "_streamlit_user__1=part", "[]=; _streamlit_user=forged",
])  # fmt: skip
def test_no_way_of_writing_a_cookie_brings_an_unknown_login_in(strange: str, server: Server) -> None:
    server.ask("/", strange)
    assert not [name for name in server.seen if name.startswith("_streamlit_user")]
    server.ask("/", COOKIE, strange)
    assert server.seen.get("_streamlit_user") in (None, "made.login.one")


def test_a_login_ends_after_the_set_time_without_a_tap(server: Server) -> None:
    server.now = IDLE - 1
    server.open([asking("rerun_script")], COOKIE)
    server.now += IDLE - 1
    server.ask("/", COOKIE)
    assert "_streamlit_user" in server.seen
    server.now += 2
    server.ask("/", COOKIE)
    assert server.seen == {}


def test_a_page_left_open_does_not_keep_a_login_alive_and_is_closed_when_it_ends(server: Server) -> None:
    alone = [asking("app_heartbeat"), asking("rerun_script", by_itself=True)]
    sent = server.open([IDLE / 2, *alone, IDLE / 2 + 1, asking("rerun_script")], COOKIE)
    assert sent == [{"type": "websocket.close", "code": CLOSED}]
    assert [one["type"] for one in server.received] == ["websocket.receive"] * 2 + ["websocket.disconnect"]


def test_downloads_are_given_to_a_login_at_work_only(server: Server) -> None:
    paths = ("/media/abc.csv", "/_stcore/metrics", "/_stcore/upload_file/a/b")
    assert [server.ask(path, COOKIE) for path in paths] == [200] * 3
    assert [server.ask(path) for path in paths] == [403] * 3
    server.ask("/auth/logout", COOKIE)
    assert [server.ask(path, COOKIE) for path in paths] == [403] * 3
    assert [Server(login_is_set=False).ask(path) for path in paths] == [200] * 3


@pytest.mark.parametrize(
    "kind", ["clear_cache", "debug_shutdown_runtime", "set_run_on_save", "load_git_info", "install_skills"]
)
@pytest.mark.parametrize("cookies", [(), (COOKIE,)])
def test_what_no_page_asks_for_does_nothing(kind: str, cookies: tuple[str, ...], server: Server) -> None:
    server.open([asking(kind), asking("rerun_script")], *cookies)
    assert [kind_of(one)[0] for one in server.received] == ["rerun_script", ""]


def test_a_page_without_a_login_is_given_no_file(server: Server) -> None:
    server.open([asking("backend_operation_request")])
    assert [kind_of(one)[0] for one in server.received] == [""]
    server.open([asking("backend_operation_request")], COOKIE)
    assert "backend_operation_request" in [kind_of(one)[0] for one in server.received]
