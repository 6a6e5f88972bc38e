"""The everyday pages on a book of a million moves, in a file and on a server: time to the first byte, and weight.

Run: python -m tests.benchmarks.pages [moves] [file|server ...]. The outlook is worked out first, as on any day; a page
is whole when its first byte goes out, so its whole time is measured.
"""

import gc
import json
import resource
import shutil
import statistics
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from flask.testing import FlaskClient

from stockroom.flows.book.opening import open_book
from stockroom.flows.book.safekeeping import copy_book
from stockroom.web.app import make_app
from stockroom.web.background import Beside
from stockroom.web.server import LOOPBACK, make_site
from tests.benchmarks.run import Figure, surroundings
from tests.benchmarks.years_of_work import fill
from tests.end_to_end.shop import MORNING
from tests.postgres import Server

EVERYDAY = (
    "/", "/tickets", "/tickets/card?number={ticket}", "/jobs", "/jobs/card?job=HEEL-L&to=finish",
    "/jobs/card?job=FULL&to=take-in", "/counter", "/shelf", "/shelf/material?code=CEM-SOLV", "/run-outs",
    "/orders", "/orders/desk", "/count", "/count/place?place=Rack 2", "/documents",
)  # fmt: skip
MOVES = 1_000_000
TIMES = 40
MOST_MS = 200.0  # of p95
MOST_BYTES = 150_000
FIRST_PAGE = 2.0  # seconds after `stockroom serve`


def measure(moves: int = MOVES, where: Sequence[str] = ("file", "server"), times: int = TIMES) -> Iterator[Figure]:
    """Time each page on each database."""
    with TemporaryDirectory() as folder:
        place = Path(folder) / "book.sqlite"
        fill(place, moves)
        yield from measured(place, where, times)


def measured(place: Path, where: Sequence[str], times: int = TIMES) -> Iterator[Figure]:
    """Time each page of a book in a file, there or on a server it is copied to."""
    if "file" in where:
        yield _first_page(place)
        yield from _pages("file", str(place), times)
    if "server" in where:
        with _on_server(place) as address:
            yield from _pages("server", address, times)


@contextmanager
def _on_server(place: Path) -> Iterator[str]:
    server = Server.start()
    try:
        address = server.create("years")
        book = open_book(str(place))
        copy_book(book, address)
        book.close()
        yield address
    finally:
        server.stop()


def _pages(where: str, place: str, times: int) -> Iterator[Figure]:
    visitor, ticket = _visitor(place)
    for page in EVERYDAY:
        yield _page(where, page.format(ticket=ticket), visitor, times)


def _visitor(place: str) -> tuple[FlaskClient, str]:
    """Open the pages, and wait until the outlook has been worked out; gives the number of an open ticket, too."""
    book = open_book(place)
    site = make_site(book, LOOPBACK, Beside(threaded=False))
    visitor = make_app(replace(site, now=lambda: datetime.fromisoformat(MORNING))).test_client()
    visitor.get("/")
    gc.freeze()  # as the server does
    found = visitor.get("/tickets").text
    return visitor, found.partition("/tickets/card?number=")[2].partition('"')[0]


def _page(where: str, page: str, visitor: FlaskClient, times: int) -> Figure:
    clocks: list[float] = []
    processor: list[float] = []
    weight = 0
    for _ in range(times + 1):
        begun, used = time.perf_counter(), time.process_time()
        answer = visitor.get(page)
        processor.append(1000 * (time.process_time() - used))
        clocks.append(1000 * (time.perf_counter() - begun))
        if answer.status_code != 200:
            raise RuntimeError(f"{page}: {answer.status_code}")
        weight = max(weight, len(answer.data))
    slow, most = (statistics.quantiles(each[1:], n=20)[-1] for each in (clocks, processor))
    middle, cpu = statistics.median(clocks[1:]), statistics.median(processor[1:])
    got = f"p95 {slow:.0f} ms, median {middle:.0f} (processor {most:.0f}, {cpu:.0f}), {weight / 1000:.0f} kB"
    met = slow <= MOST_MS and weight <= MOST_BYTES
    return Figure(f"{where}: {page}", got, "p95 200 ms", met, peak())


def _first_page(place: Path) -> Figure:
    """Start the pages as installed, and ask for the first one."""
    program = shutil.which("stockroom", path=str(Path(sys.executable).parent)) or "stockroom"
    command = [program, "--book", str(place), "serve", "--port", "0", "--json"]
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
    asked = next((int(word) for word in sys.argv[1:] if word.isdigit()), MOVES)
    kinds = [word for word in sys.argv[1:] if not word.isdigit()]
    for figure in measure(asked, kinds or ("file", "server")):
        print(figure, flush=True)
