"""Run a module as a server that Ctrl-C ends without a word while it still loads; from then on its own handlers do.

`python -m pipelines.cli.quiet_start MODULE ARGUMENTS…`. Not here: which server (command_line.py).
"""

from __future__ import annotations

import runpy
import signal
import sys

if __name__ == "__main__":
    # Python's own handler would raise in the middle of an import and print where.
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    sys.argv = sys.argv[1:]
    runpy.run_module(sys.argv[0], run_name="__main__", alter_sys=True)
