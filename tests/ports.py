"""A port for a server of a test: one that the system gives to nobody who only connects."""

from __future__ import annotations

import random
import socket
from pathlib import Path

GIVEN_OUT = Path("/proc/sys/net/ipv4/ip_local_port_range")
"""First and last port that the system gives to connections: a server that comes back may find its own among them."""
FIRST = 20_000


def free_port() -> int:
    """Return a port that is free now and below those given out; where all of those are, any that is free now."""
    first_given = int(GIVEN_OUT.read_text(encoding="ascii").split()[0]) if GIVEN_OUT.exists() else FIRST
    below = range(FIRST, first_given)
    for port in (*random.SystemRandom().sample(below, min(len(below), 50)), 0):
        with socket.socket() as tried:
            try:
                tried.bind(("127.0.0.1", port))
            except OSError:
                continue
            return tried.getsockname()[1]
    raise OSError("no port is free")
