"""The operating system's limits on a child that runs a reader's query.

Loaded by path by worker.py, so lean like it: nothing of ours is imported. Not here: what the database is kept from.
"""

from __future__ import annotations

import signal

THREADS = 2


def confine(seconds: float, memory_mb: int) -> None:
    """Give this process to the operating system's limits: address space, files, processor time, clock.

    Address space is what is mapped now (libraries, interpreter) plus `memory_mb`. Where the system has no such limits
    (Windows; macOS has no reliable one for memory) the database's own limit and the parent's kill remain.
    """
    try:
        import resource
    except ImportError:
        return
    signal.signal(signal.SIGALRM, signal.SIG_DFL)
    signal.setitimer(signal.ITIMER_REAL, seconds + 1)
    limits = [(resource.RLIMIT_FSIZE, 0), (resource.RLIMIT_CORE, 0), (resource.RLIMIT_NOFILE, 64)]
    limits.append((resource.RLIMIT_CPU, int((seconds + 1) * (THREADS + 1)) + 1))
    try:
        with open("/proc/self/statm", encoding="ascii") as statm:
            mapped = int(statm.read().split()[0]) * resource.getpagesize()
        limits.append((resource.RLIMIT_AS, mapped + memory_mb * 1_000_000))
    except OSError:
        pass
    for kind, limit in limits:
        hard = resource.getrlimit(kind)[1]
        most = limit if hard == resource.RLIM_INFINITY else min(limit, hard)
        resource.setrlimit(kind, (most, most))
