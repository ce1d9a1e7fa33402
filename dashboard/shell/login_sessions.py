"""Logins as the server keeps them: begun by a login, ended by a logout, by a set time without a tap, by a restart.

The login's own cookie is signed and stands alone: whoever has a copy would be let in for thirty days, logged out or
not. So a cookie counts only while this server knows of its login. Also here: what a browser may ask of a running page.
Not here: who a login is and what it may see (access.py).
"""

from __future__ import annotations

import asyncio
import hashlib
import time
from collections.abc import Callable, Iterable

from starlette.requests import cookie_parser
from streamlit.proto.BackMsg_pb2 import BackMsg

from warehouse.serving.own_addresses import App, Receive, Scope, Send

COOKIE = "_streamlit_user"
"""Begins the names of the cookies in which Streamlit keeps a login."""
ENTRANCE, EXIT = "/oauth2callback", "/auth/logout"
NEEDS_LOGIN = ("/media/", "/_stcore/upload_file", "/_stcore/metrics")
"""What is given to a browser with a login only, where one is set: downloads above all."""
ASKED = frozenset({"rerun_script", "stop_script", "app_heartbeat", "file_urls_request", "backend_operation_request"})
FILES = frozenset({"file_urls_request", "backend_operation_request"})
PAYLOADS = frozenset({"deferred_file", "dataframe_chunk", None})
CLOSED = 1008
"""What a closed connection says: by our rules (RFC 6455, 7.4.1)."""


class Logins:
    """The logins that are at work, each known by a hash of its cookie.

    Attributes
    ----------
    idle_seconds
        Without a tap for so long, a login ends.
    """

    def __init__(self, idle_seconds: float, clock: Callable[[], float] = time.monotonic) -> None:
        self.idle_seconds, self.clock = idle_seconds, clock
        self._last_tap: dict[str, float] = {}

    def begin(self, key: str) -> None:
        """Let a login in."""
        self._last_tap[key] = self.clock()

    def end(self, key: str) -> None:
        """End a login, wherever it is open."""
        self._last_tap.pop(key, None)

    def seconds_left(self, key: str) -> float:
        """Return how long a login lasts without a tap; nothing where it has ended."""
        last = self._last_tap.get(key)
        left = 0.0 if last is None else last + self.idle_seconds - self.clock()
        if last is not None and left <= 0:
            self.end(key)
        return max(left, 0.0)

    def tap(self, key: str) -> None:
        """Note that somebody did something."""
        if self.seconds_left(key):
            self.begin(key)


class LoginSessions:
    """An ASGI layer: takes a login's cookie away unless it is at work, and messages that no page sends.

    Parameters
    ----------
    app
        The pages.
    login_is_set
        Tells whether there is a login at all; without one nothing but messages is looked at.
    idle_seconds
        Tells after what time without a tap a login ends; asked once, when the first request comes.
    """

    LOOK = 1.0
    """Seconds between two looks at whether an open page's login has ended."""

    def __init__(self, app: App, login_is_set: Callable[[], bool], idle_seconds: Callable[[], float]) -> None:
        self.app, self.login_is_set, self.idle_seconds = app, login_is_set, idle_seconds
        self.logins: Logins | None = None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        self.logins = self.logins or Logins(self.idle_seconds())
        needed = self.login_is_set()
        key = key_in(cookies_of(scope))
        at_work = bool(key and self.logins.seconds_left(key))
        if needed and not at_work and scope["path"] != EXIT:
            scope = without_login(scope)
        if scope["type"] == "websocket":
            watched = key if needed and at_work else None
            await self.app(scope, self._watched(watched, needed, receive, send), send)
        elif needed and not at_work and scope["path"].startswith(NEEDS_LOGIN):
            await refuse(send)
        else:
            if scope["path"] == EXIT:
                self.logins.end(key)
            await self.app(scope, receive, self._entering(send) if scope["path"] == ENTRANCE else send)

    def _entering(self, send: Send) -> Send:
        """Return what sends the answer of a login, and notes the cookie in it."""

        async def noted(message: dict) -> None:
            if message["type"] == "http.response.start" and self.logins is not None:
                key = key_in(cookies_set(message))
                if key:
                    self.logins.begin(key)
            await send(message)

        return noted

    def _watched(self, key: str | None, needed: bool, receive: Receive, send: Send) -> Receive:
        """Return what receives an open page's messages until its login has ended, without those that no page sends."""
        logins, waiting = self.logins, None
        assert logins is not None

        async def received() -> dict:
            nonlocal waiting
            while True:
                waiting = waiting or asyncio.ensure_future(receive())
                done, _ = await asyncio.wait({waiting}, timeout=self.LOOK if key else None)
                if key and not logins.seconds_left(key):
                    waiting.cancel()
                    await send({"type": "websocket.close", "code": CLOSED})
                    return {"type": "websocket.disconnect", "code": CLOSED}
                if not done:
                    continue
                message, waiting = waiting.result(), None
                asked, by_hand = kind_of(message)
                if asked and (asked not in ASKED or (needed and not key and asked in FILES)):
                    continue
                if key and by_hand:
                    logins.tap(key)
                return message

        return received


def kind_of(message: dict) -> tuple[str, bool]:
    """Return what a page's message asks for (empty: it is none), and whether a person did something."""
    data = message.get("bytes") if message["type"] == "websocket.receive" else None
    if not data:
        return "", False
    read = BackMsg()
    try:
        read.ParseFromString(data)
    except Exception:  # no message at all: the pages' own server closes such a connection
        return "", False
    asked = read.WhichOneof("type") or ""
    if asked == "backend_operation_request":
        wanted = read.backend_operation_request.WhichOneof("payload")
        asked = asked if wanted in PAYLOADS else f"{asked} {wanted}"
    by_itself = asked == "app_heartbeat" or (asked == "rerun_script" and read.rerun_script.is_auto_rerun)
    return asked, not by_itself


def key_in(cookies: Iterable[str]) -> str:
    """Return a hash of the login among cookies (`name=value`); empty where there is none, or two of a name."""
    pairs = [pair for one in cookies for pair in cookie_parser(one).items() if is_user(pair[0])]
    kept = dict(pairs)
    if not kept.get(COOKIE) or len(kept) < len(pairs):
        return ""
    return hashlib.sha256("\n".join(f"{name}={kept[name]}" for name in sorted(kept)).encode()).hexdigest()


def cookies_of(scope: Scope) -> list[str]:
    """Return the cookies of a request, each as `name=value`."""
    headers = [value.decode("latin-1") for name, value in scope["headers"] if name.lower() == b"cookie"]
    return [part.strip() for header in headers for part in header.split(";") if part.strip()]


def cookies_set(message: dict) -> list[str]:
    """Return the cookies that an answer sets, without what is said about them."""
    headers = [value.decode("latin-1") for name, value in message["headers"] if name.lower() == b"set-cookie"]
    return [header.split(";")[0].strip() for header in headers]


def is_user(name: str) -> bool:
    """Return whether a cookie is the login's or a further part of it; its tokens are none."""
    rest = name.removeprefix(COOKIE)
    return name == COOKIE or (rest != name and rest.strip("_").isdigit())


def without_login(scope: Scope) -> Scope:
    """Return a request without its login."""
    others = [(name, value) for name, value in scope["headers"] if name.lower() != b"cookie"]
    kept = "; ".join(one for one in cookies_of(scope) if not one.startswith(COOKIE))
    return {**scope, "headers": [*others, (b"cookie", kept.encode("latin-1"))] if kept else others}


async def refuse(send: Send) -> None:
    """Answer that a login is needed."""
    body = b"Log in first: this is given to a browser with a login only."
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"content-length", str(len(body)).encode())]
    await send({"type": "http.response.start", "status": 403, "headers": headers})
    await send({"type": "http.response.body", "body": body})
