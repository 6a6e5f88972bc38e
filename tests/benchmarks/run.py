"""Run the speed benchmarks and print one table: what was measured, what was wanted, and the peak memory.

Run: python -m tests.benchmarks.run [name ...]

Each figure is a median of several interleaved runs in processes of their own. Ratios are taken between runs that
alternate, so that a busy machine slows both sides alike. Nothing here fails a build: a figure that is not met says so.
"""

import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from statistics import median
from tempfile import TemporaryDirectory

NAMES = ("startup", "importing", "shelf", "big_book", "asking", "outlook", "frames")
_KIB = 1024

_AROUND = """
import resource, time, sys
_at = []
def _now():
    used = resource.getrusage(resource.RUSAGE_SELF)
    return time.perf_counter(), used.ru_utime + used.ru_stime
def start(): _at.append(_now())
def stop(): _at.append(_now())
{body}
(w0, c0), (w1, c1) = _at
print('MEASURED', w1 - w0, c1 - c0, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""

# Linux hands a new process the peak memory of the one it was forked from, so a small one does the launching.
_LAUNCH = """
import os, sys, time
began = time.perf_counter()
pid = os.posix_spawn(sys.argv[1], sys.argv[1:], os.environ, file_actions=[(os.POSIX_SPAWN_OPEN, 1, os.devnull, 1, 0)])
_, status, used = os.wait4(pid, 0)
print(time.perf_counter() - began, used.ru_utime + used.ru_stime, used.ru_maxrss)
sys.exit(os.waitstatus_to_exitcode(status))
"""


@dataclass(frozen=True)
class Figure:
    """One line of the table."""

    name: str
    got: str
    wanted: str
    met: bool
    megabytes: float

    def __str__(self) -> str:
        """Write the line."""
        return f"{self.name:<67} {self.got:<52} {self.wanted:<12} {'met' if self.met else 'NOT MET':<8}{self.megabytes:>6.0f} MB"


@dataclass(frozen=True)
class Ran:
    """What a process took: seconds by the clock and of the processor, and its peak memory."""

    wall: float
    cpu: float
    megabytes: float


def in_child(body: str) -> Ran:
    """Run Python in a process of its own; what lies between its start() and stop() is measured."""
    words = [sys.executable, "-c", _AROUND.format(body=body)]
    done = subprocess.run(words, check=True, env=surroundings(), text=True, stdout=subprocess.PIPE)
    wall, cpu, peak = map(float, done.stdout.rsplit("MEASURED", 1)[1].split())
    return Ran(wall, cpu, peak / _KIB)


def whole_process(words: Sequence[str], env: dict[str, str] | None = None) -> Ran:
    """Run a command and measure all of it, interpreter included."""
    launched = [sys.executable, "-I", "-S", "-c", _LAUNCH, *words]
    done = subprocess.run(launched, check=True, env=surroundings() | (env or {}), text=True, stdout=subprocess.PIPE)
    wall, cpu, peak = map(float, done.stdout.split())
    return Ran(wall, cpu, peak / _KIB)


@cache
def _bytecode() -> TemporaryDirectory[str]:
    return TemporaryDirectory()


def surroundings() -> dict[str, str]:
    """Give children compiled modules to start from, as an installed package has them, whatever this shell forbids."""
    kept = {name: text for name, text in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return kept | {"PYTHONPYCACHEPREFIX": _bytecode().name, "OMP_NUM_THREADS": "1"}


def in_turn(times: int, *commands: tuple[Sequence[str], dict[str, str]]) -> list[Ran]:
    """Run commands in turn, several times over, and give the medians of each."""
    for words, env in commands:
        whole_process(words, env)  # fills the caches
    runs = [[whole_process(words, env) for words, env in commands] for _ in range(times)]
    return [middle([each[n] for each in runs]) for n in range(len(commands))]


def middle(runs: Sequence[Ran]) -> Ran:
    """Give the median of each figure of several runs."""
    return Ran(*(median(getattr(run, name) for run in runs) for name in ("wall", "cpu", "megabytes")))


def ratio(name: str, pair: Sequence[Ran], most: float) -> Figure:
    """Compare two runs by processor time, which a busy machine disturbs less than the clock."""
    ours, theirs = pair
    times = ours.cpu / theirs.cpu
    told = f"{times:.2f}x ({ours.cpu:.2f} s against {theirs.cpu:.2f} s)"
    return Figure(name, told, f"<= {most:g}x", times <= most, ours.megabytes)


def main(names: Sequence[str]) -> None:
    """Print the table."""
    for name in names:
        for figure in import_module(f"tests.benchmarks.{name}").measure():
            print(figure, flush=True)


if __name__ == "__main__":
    main(sys.argv[1:] or NAMES)
