"""Linear algebra in a process of the pipeline takes one thread, unless whoever starts it says otherwise."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest

SAYS_THREADS = """
import json
import pipelines.command_line, pipelines.runs.one_machine, pipelines.definitions
import numpy, scipy.linalg, threadpoolctl
print(json.dumps([library["num_threads"] for library in threadpoolctl.threadpool_info()
                  if library["user_api"] == "blas"]))
"""


@pytest.mark.parametrize(
    ("set_by_hand", "threads"), [({}, 1), ({"OPENBLAS_NUM_THREADS": "2"}, min(os.cpu_count() or 1, 2))]
)
def test_threads_of_linear_algebra(set_by_hand: dict[str, str], threads: int) -> None:
    around = {name: value for name, value in os.environ.items() if not name.endswith("_NUM_THREADS")}
    said = subprocess.run(
        [sys.executable, "-c", SAYS_THREADS], env=around | set_by_hand, capture_output=True, text=True, check=True
    ).stdout
    assert set(json.loads(said)) == {threads}
