"""A server on this machine that stands for somewhere else: it keeps every request that reaches it."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer


class Receiver:
    """What arrived elsewhere.

    Attributes
    ----------
    address
        Where it listens.
    paths
        The path of every request, in the order of arrival.
    """

    def __init__(self, port: int) -> None:
        self.address = f"http://127.0.0.1:{port}"
        self.paths: list[str] = []


@contextmanager
def receiving(page: bytes = b"") -> Iterator[Receiver]:
    """Receive whatever comes; answer with a page."""
    kept: list[str] = []

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            kept.append(self.path)
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.end_headers()
            self.wfile.write(page)

        do_POST = do_GET  # noqa: N815 -- the library's name

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    receiver = Receiver(server.server_port)
    receiver.paths = kept
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield receiver
    finally:
        server.shutdown()
        server.server_close()
        thread.join(timeout=10)
