"""The numerical library's own threads stay out of the way: they would wait on each other, most of all among workers."""

import os
import subprocess
import sys

import pytest

ASKED = "import stockroom, os; print(os.environ['OMP_NUM_THREADS'])"


@pytest.mark.parametrize(("around", "threads"), [({}, "1"), ({"OMP_NUM_THREADS": "3"}, "3")])
def test_one_thread_unless_whoever_runs_it_says_otherwise(around: dict[str, str], threads: str) -> None:
    kept = {name: value for name, value in os.environ.items() if name != "OMP_NUM_THREADS"}
    done = subprocess.run([sys.executable, "-c", ASKED], env=kept | around, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == threads
