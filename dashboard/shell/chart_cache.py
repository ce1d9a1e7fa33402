"""Charts as pages send them: drawn once for what is drawn, kept as raw Vega-Lite with their rows beside.

What is kept is found by everything that the drawing is made from, the rows themselves included: a chart with a name in
it is given only to who brings that name along. Not here: what a chart shows (charts/).
"""

from __future__ import annotations

import hashlib
import json
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import altair as alt
import polars as pl
import streamlit as st
from altair.utils.schemapi import debug_mode

from dashboard.shell.theme import Chart

MOST = 500
"""Drawings kept in a process; at some 40 kB each about 20 MB."""
ROWS = "rows kept beside"
_altair = threading.Lock()  # what is set on altair is set for every thread


@dataclass(frozen=True)
class Drawing:
    """A finished chart.

    Attributes
    ----------
    spec
        Vega-Lite as JSON; its data are names.
    rows
        Name -> rows as Arrow IPC, each frame once.
    """

    spec: str
    rows: dict[str, bytes]


def drawn(draw: Callable[..., Chart], *given: Any, **named: Any) -> Drawing:
    """Return what a function of charts/ draws of its arguments; kept for the next who asks for the same.

    Parameters
    ----------
    draw
        A chart file's function.
    *given, **named
        Its arguments: frames, and values that print in full.
    """
    return _kept(_key(draw, given, named), draw, given, named)


def show(drawing: Drawing, key: str | None = None) -> None:
    """Put a drawing on the page."""
    spec = {**json.loads(drawing.spec), "datasets": drawing.rows}
    st.vega_lite_chart(spec=spec, theme=None, width="stretch", key=key)


def _key(draw: Callable[..., Chart], given: tuple[Any, ...], named: dict[str, Any]) -> str:
    """Return what stands for everything that a drawing is made from."""
    parts = hashlib.blake2b(f"{draw.__module__}.{draw.__qualname__}".encode(), digest_size=20)
    for name, value in [*enumerate(given), *sorted(named.items())]:
        content = value.write_ipc(None).getvalue() if isinstance(value, pl.DataFrame) else repr(value).encode()
        parts.update(f"\x00{name}\x00{len(content)}\x00".encode())
        parts.update(content)
    return parts.hexdigest()


@st.cache_resource(max_entries=MOST, show_spinner=False)
def _kept(key: str, _draw: Callable[..., Chart], _given: tuple[Any, ...], _named: dict[str, Any]) -> Drawing:
    """Return the drawing of a key."""
    return finished(lambda: _draw(*_given, **_named))


def finished(draw: Callable[[], Chart]) -> Drawing:
    """Draw without asking at every step whether it is Vega-Lite: tests ask that of every chart."""
    rows: dict[str, bytes] = {}
    alt.data_transformers.register(ROWS, _beside)
    with _altair, alt.data_transformers.enable(ROWS, rows=rows), debug_mode(False):
        return Drawing(json.dumps(draw().to_dict()), rows)


def _beside(frame: Any, *, rows: dict[str, bytes]) -> dict[str, str]:
    """Put a frame's rows beside the chart; return the name that stands for them, the same for the same rows."""
    content = frame.write_ipc_stream(None, compat_level=pl.CompatLevel.oldest()).getvalue()  # browsers read the oldest
    name = hashlib.blake2b(content, digest_size=12).hexdigest()
    rows[name] = content
    return {"name": name}
