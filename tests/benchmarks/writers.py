"""How long each of several writers waits for its turn: `python -m tests.benchmarks.writers [writers] [sales each]`."""

import multiprocessing
import statistics
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from stockroom.flows.bench.counter import sell
from stockroom.flows.book.opening import new_book, open_book
from tests import build


def _write(place: str, writer: int, sales: int, told: "multiprocessing.Queue[list[float]]") -> None:
    waited = []
    book = open_book(place)
    for n in range(sales):
        began = time.perf_counter()
        sell(book, "POLISH", build.amount("1 piece"), build.stamp("2026-01-06", f"{writer} {n}", sure=True))
        waited.append(time.perf_counter() - began)
    told.put(waited)
    book.close()


def measured(writers: int, sales: int) -> list[float]:
    """Let writers sell side by side, each in a process of its own; gives the seconds of every sale, shortest first."""
    with TemporaryDirectory() as folder:
        place = str(Path(folder) / "book.sqlite")
        build.opened(new_book(place)).close()
        told: multiprocessing.Queue[list[float]] = multiprocessing.Queue()
        hands = [multiprocessing.Process(target=_write, args=(place, n, sales, told)) for n in range(writers)]
        for hand in hands:
            hand.start()
        found = [waited for _ in hands for waited in told.get()]
        for hand in hands:
            hand.join()
        return sorted(found)


def main(writers: int, sales: int) -> None:
    """Print the figures."""
    found = measured(writers, sales)
    middle, slow = statistics.median(found) * 1000, found[int(len(found) * 0.99)] * 1000
    print(
        f"{writers} writers, {len(found)} sales: half within {middle:.0f} ms, 99 % within {slow:.0f} ms, the slowest {found[-1] * 1000:.0f} ms"
    )


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:])) if len(sys.argv) == 3 else main(6, 200)
