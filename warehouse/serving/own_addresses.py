"""Only requests meant for this server reach it: its own names as Host, its own pages as Origin.

A page from elsewhere can have its name point at this machine (DNS rebinding) and would then be served as if it were
ours. Its requests still carry its own name, which is what is looked at here. Not here: who may log in.
"""

from __future__ import annotations

import ipaddress
import re
from collections.abc import Awaitable, Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})
HOST = re.compile(r"(\[[0-9a-f:.]+\]|[\w.-]+)(?::\d{1,5})?", re.ASCII)
Scope = dict[str, Any]
Receive = Callable[[], Awaitable[dict[str, Any]]]
Send = Callable[[dict[str, Any]], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]
HARDENED = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
}
"""Headers of every answer: nothing of ours is framed, guessed at, or read by pages of others."""


@dataclass(frozen=True)
class Addresses:
    """Under which names a server may be asked.

    Attributes
    ----------
    hosts
        Names and addresses, lower case, without port; `*.example.org` stands for every name below it.
    origins
        Origins besides the one asked (scheme, name and port), such as that of a server that passes requests on.
    any_number
        Whether every numeric address will do: such a name cannot be made to point elsewhere.
    """

    hosts: frozenset[str] = LOOPBACK
    origins: frozenset[str] = frozenset()
    any_number: bool = False

    def knows_host(self, host: str | None) -> bool:
        """Return whether a Host header names this server."""
        name = host_name(host)
        if name is None:
            return False
        if name in self.hosts or any(one.startswith("*.") and name.endswith(one[1:]) for one in self.hosts):
            return True
        return self.any_number and is_number(name)

    def knows_origin(self, origin: str | None, host: str | None) -> bool:
        """Return whether a request comes from a page of this server; one without an origin comes from no page."""
        if origin is None:
            return True
        try:
            parts = urlsplit(origin)
        except ValueError:
            return False
        own = parts.scheme in ("http", "https") and bool(parts.netloc) and parts.netloc.lower() == (host or "").lower()
        return own or origin.lower() in self.origins


def host_name(host: str | None) -> str | None:
    """Return the name in a Host header, lower case, without port and closing dot; None where it is none."""
    found = HOST.fullmatch((host or "").lower())
    return found[1].strip("[]").rstrip(".") or None if found else None


def is_number(name: str) -> bool:
    """Return whether a name is a numeric address."""
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def is_loopback(name: str) -> bool:
    """Return whether a name or address is this machine's own."""
    return name in LOOPBACK or (is_number(name) and ipaddress.ip_address(name).is_loopback)


def addresses(listens_on: str | None, more: Iterable[str] = (), origins: Iterable[str] = ()) -> Addresses:
    """Return the addresses of a server.

    Parameters
    ----------
    listens_on
        Where it listens; empty or 0.0.0.0 is every address of the machine, asked for by number or by a name in `more`.
    more
        Further names that it is known by.
    origins
        Further origins; their names are known as hosts too.
    """
    own = (listens_on or "").strip("[]").lower()
    known = [origin.rstrip("/").lower() for origin in origins]
    names = [*more, *(urlsplit(origin).hostname or "" for origin in known), own]
    hosts = LOOPBACK | {name.strip().strip("[]").lower().rstrip(".") for name in names}
    return Addresses(frozenset(hosts - {"", "*", "0.0.0.0", "::"}), frozenset(known), any_number=not is_loopback(own))


class OwnAddressesOnly:
    """An ASGI layer: refuses what is asked under another name or from another page, and hardens every answer.

    Parameters
    ----------
    app
        What is asked where nothing is wrong.
    known
        The addresses, or what tells them when the first request comes.
    headers
        Put on every answer, refusals too, in place of the app's own of that name.
    """

    def __init__(
        self, app: App, known: Addresses | Callable[[], Addresses], headers: Mapping[str, str] = HARDENED
    ) -> None:
        self.app, self.known = app, known
        self.headers = [(name.lower().encode(), value.encode()) for name, value in headers.items()]

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        if callable(self.known):
            self.known = self.known()
        refused = refusal(scope, self.known)
        hardened = self._hardening(send)
        if not refused:
            await self.app(scope, receive, hardened)
        elif scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008, "reason": refused})
        else:
            body = refused.encode()
            length = (b"content-length", str(len(body)).encode())
            kind = (b"content-type", b"text/plain; charset=utf-8")
            await hardened({"type": "http.response.start", "status": 403, "headers": [kind, length]})
            await hardened({"type": "http.response.body", "body": body})

    def _hardening(self, send: Send) -> Send:
        ours = {name for name, _ in self.headers}

        async def hardened(message: dict[str, Any]) -> None:
            if message["type"] == "http.response.start":
                kept = [pair for pair in message.get("headers", ()) if bytes(pair[0]).lower() not in ours]
                message = {**message, "headers": [*kept, *self.headers]}
            await send(message)

        return hardened


def refusal(scope: Scope, known: Addresses) -> str:
    """Return why a request is not for this server, with the remedy; empty where it is."""
    found = {b"host": [], b"origin": []}
    for name, value in scope["headers"]:
        if name.lower() in found:
            found[name.lower()].append(value.decode("latin-1"))
    hosts, origins = found[b"host"], found[b"origin"]
    if len(hosts) != 1 or not known.knows_host(hosts[0]):
        return "This server is not known by that name. Open it by its own address, or set the name in its settings."
    if not all(known.knows_origin(origin, hosts[0]) for origin in origins):
        return "This request comes from a page of another server. Open the page by its own address."
    return ""
