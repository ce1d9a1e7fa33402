"""Damage done to files: what hypothesis draws from, and how it is applied. Not here: what must hold after it."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

PROPERTIES = 9
CASES = max(1, int(os.environ.get("FUZZ_CASES", "108")) // PROPERTIES)
"""Cases each property is tried on; FUZZ_CASES counts them all together, and the long run sets it to 10000."""

TOKENS = (
    b"", b"\n", b"\r", b"\r\n", b"\n\n\n", b",", b";", b"\t", b'"', b'""', b'"\n', b"\x00", b"\x01", b"\x1c", b"\x1f",
    b"\xff", b"\xfe\xff", b"\xef\xbb\xbf", b"\x1f\x8b", b"\xed\xa0\x80", b"\\ud800", b"+2AA-", b"{", b"[" * 3000,
    b'{"a":' * 2000, b"null", b"NaN", b"inf", b"-1e999", b"1" * 400, b"0x1F", b"1_000", b"1e5", b"infinity", b"epoch",
    b"9999-12-31T23:59:59", b"0001-01-01T00:00:00", b"290000-01-01", b"2024-02-30T10:00:00", b"24:00:00",
    "\u202e".encode(), "é".encode("latin-1"), "Schläger".encode(), "\U0001f3cc".encode(), b"x" * 70_000, b"'", b"$1",
    b"'; drop table raw.shot; --", b"%s", b"{canonical}", b"../../etc/passwd", b"=1+1", b"<b>", b"driver", b"007",
)  # fmt: skip

EDIT = st.tuples(
    st.floats(0, 1), st.one_of(st.sampled_from(TOKENS), st.binary(max_size=6)), st.integers(0, 12), st.integers(1, 3)
)
EDITS = st.lists(EDIT, max_size=5)
CUT = st.one_of(st.none(), st.floats(0, 1))
"""Where the file ends early; None: it does not."""

Edits = list[tuple[float, bytes, int, int]]


def damaged(content: bytes, edits: Edits, cut: float | None = None) -> bytes:
    """Return content with bytes taken out and others put in, anywhere, and perhaps its end missing."""
    for where, put, taken, times in edits:
        at = int(where * len(content))
        content = content[:at] + put * times + content[at + taken :]
    return content if cut is None else content[: int(cut * len(content))]


def many(cases: int = CASES) -> settings:
    """Return hypothesis' settings for a property: no deadline, no complaint about a fixture shared by its cases."""
    return settings(
        max_examples=cases,
        deadline=None,
        suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow, HealthCheck.data_too_large],
    )
