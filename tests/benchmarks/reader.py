"""A reader without a browser: one session over Streamlit's own websocket, as a browser's page opens and changes it.

Not here: what is measured with it.
"""

from __future__ import annotations

import time
from contextlib import ExitStack
from dataclasses import dataclass, field
from types import TracebackType
from typing import Any
from urllib.parse import urlencode

from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg
from websockets.sync.client import connect
from websockets.typing import Subprotocol

LONGEST = 120


@dataclass
class Run:
    """What one run of a page sent.

    Attributes
    ----------
    seconds
        From the request to the script's last word.
    texts
        Markdown, titles, captions and boxes of the page in the order sent.
    exceptions
        What error boxes said.
    finished
        Whether the script ran to its end.
    """

    seconds: float = 0.0
    texts: list[str] = field(default_factory=list)
    exceptions: list[str] = field(default_factory=list)
    finished: bool = False


class Reader:
    """One session. Give `address` as http://host:port."""

    def __init__(self, address: str) -> None:
        self.opened = ExitStack()
        self.socket = self.opened.enter_context(connect(
            address.replace("http", "ws", 1) + "/_stcore/stream", subprotocols=[Subprotocol("streamlit")],
            origin=address, max_size=None, compression=None, open_timeout=LONGEST, ping_timeout=LONGEST,
        ))  # fmt: skip
        self.messages: dict[str, ForwardMsg] = {}

    def __enter__(self) -> Reader:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.opened.close()

    def open(self, page: str, **choices: str) -> Run:
        """Open a page with choices in its address, or run it again; return what came back.

        Raises
        ------
        TimeoutError
            The script did not end in time.
        """
        asked = BackMsg()
        asked.rerun_script.query_string = urlencode(choices)
        asked.rerun_script.page_name = page
        begun = time.perf_counter()
        self.socket.send(asked.SerializeToString())
        run, started = Run(), False
        while True:
            message = ForwardMsg()
            message.ParseFromString(self.socket.recv(timeout=LONGEST))
            kind = message.WhichOneof("type")
            if kind == "ref_hash":
                message = self.messages[message.ref_hash]
                kind = message.WhichOneof("type")
            elif message.hash:
                self.messages[message.hash] = message
            if kind == "new_session":
                started = True
            elif kind == "delta":
                _keep(message.delta.new_element, run)
            elif kind == "script_finished" and started:
                if message.script_finished == ForwardMsg.FINISHED_EARLY_FOR_RERUN:
                    run = Run()
                    continue
                run.finished = message.script_finished == ForwardMsg.FINISHED_SUCCESSFULLY
                run.seconds = time.perf_counter() - begun
                return run


def _keep(element: Any, run: Run) -> None:
    """Keep what an element says."""
    kind = element.WhichOneof("type")
    if kind == "exception":
        run.exceptions.append(element.exception.message)
    elif kind in ("markdown", "heading", "alert"):
        run.texts.append(getattr(element, kind).body)
