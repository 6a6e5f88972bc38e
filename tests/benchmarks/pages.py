"""The everyday pages on a book of a million moves, against one of ten thousand: server time and weight.

Run: python -m tests.benchmarks.pages
"""

import json
import resource
import statistics
import subprocess
import sys
import time
import urllib.request
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from flask.testing import FlaskClient

from stockroom.flows.book.opening import open_book
from stockroom.web.app import make_app
from stockroom.web.server import LOOPBACK, make_site
from tests.benchmarks.big_book import LARGE, two_books
from tests.benchmarks.run import Figure, surroundings
from tests.end_to_end.shop import MORNING
from tests.unit.web.conftest import Asleep

EVERYDAY = (
    "/", "/tickets", "/jobs", "/jobs/card?job=HEEL-L&to=finish", "/counter", "/shelf", "/shelf/material?code=CEMENT",
    "/run-outs", "/orders", "/count", "/count/place?place=A3",
)  # fmt: skip
TIMES = 40
MOST_MS = 100.0
MOST_RATIO = 1.5
MOST_BYTES = 150_000
FIRST_PAGE = 2.0  # seconds after `stockroom serve`


def measure(moves: int = LARGE, times: int = TIMES) -> list[Figure]:
    """Time each page on both books in turn."""
    with two_books(moves) as (small, large):
        figures = [_first_page(large)]
        sides = [_visitor(large), _visitor(small)]
        return figures + [_page(page, sides, times) for page in EVERYDAY]


def _visitor(place: Path) -> FlaskClient:
    site = make_site(open_book(str(place)), LOOPBACK, Asleep())
    return make_app(replace(site, now=lambda: datetime.fromisoformat(MORNING))).test_client()


def _page(page: str, sides: list[FlaskClient], times: int) -> Figure:
    clocks: list[list[float]] = [[], []]
    processor: list[list[float]] = [[], []]
    weight = 0
    for _ in range(times + 1):
        for n, side in enumerate(sides):
            begun, used = time.perf_counter(), time.process_time()
            answer = side.get(page)
            processor[n].append(1000 * (time.process_time() - used))
            clocks[n].append(1000 * (time.perf_counter() - begun))
            if answer.status_code != 200:
                raise RuntimeError(f"{page}: {answer.status_code}")
            weight = max(weight, len(answer.data))
    large, cpu = clocks[0][1:], statistics.median(processor[0][1:])
    middle, ratio = statistics.median(large), cpu / statistics.median(processor[1][1:])
    slow = statistics.quantiles(large, n=20)[-1]
    got = (
        f"median {middle:.0f} ms (processor {cpu:.0f}), p95 {slow:.0f}, processor x{ratio:.2f}, {weight / 1000:.0f} kB"
    )
    met = middle <= MOST_MS and ratio <= MOST_RATIO and weight <= MOST_BYTES
    return Figure(f"{page} on a million moves, against ten thousand", got, "100ms x1.5", met, peak())


def _first_page(place: Path) -> Figure:
    """Start the pages as installed, and ask for the first one."""
    command = [str(Path(sys.executable).with_name("stockroom")), "--book", str(place), "serve", "--port", "0", "--json"]
    took = []
    for _ in range(3):
        begun = time.perf_counter()
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=surroundings()) as opened:
            if opened.stdout is None:
                raise RuntimeError("the pages say nothing")
            urllib.request.urlopen(json.loads(opened.stdout.readline())["address"]).read()  # noqa: S310 -- our own
            took.append(time.perf_counter() - begun)
            opened.terminate()
    middle = statistics.median(took)
    return Figure("first page after `stockroom serve`", f"{middle:.2f} s", "2 s", middle <= FIRST_PAGE, peak())


def peak() -> float:
    """Give the most memory this process has taken, in MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    for figure in measure(int(sys.argv[1]) if sys.argv[1:] else LARGE):
        print(figure)
