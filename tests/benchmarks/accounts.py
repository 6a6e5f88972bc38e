"""How long and how much memory accounts take: layers, margins and the workbook of a year of 200,000 moves.

Run as `python -m tests.benchmarks.accounts [documents]`. Times are processor seconds, so that a busy machine tells the
same; each line gives the cost for a thousand moves too, which should not grow with the book.
"""

import resource
import sys
import time
from collections.abc import Callable
from datetime import date
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TypeVar

from stockroom.margins.accounts import Accounts, Sources, accounts, costs_of, rules_of
from stockroom.margins.income import Books, grouped, work_done
from stockroom.margins.period import Period
from stockroom.show.workbook_paint import workbook
from stockroom.stock.layers import replay
from stockroom.stock.moves import Document
from tests.unit.margins.book import sources, year_of_documents

PERIOD = Period(first=date(2025, 1, 1), last=date(2026, 12, 31))
SIZES = (25_000, 50_000, 102_500)  # documents; the last brings 200,000 moves
Result = TypeVar("Result")


def main(documents: int | None = None) -> None:
    """Print a line for each size and step."""
    for size in (documents,) if documents else SIZES:
        _measure(size)


def _measure(size: int) -> None:
    documents = year_of_documents(size)
    moves = sum(len(document.moves) for document in documents)
    book = sources(documents)
    print(f"{moves:,} moves, {len(book.tickets):,} tickets; memory before {_peak()} MB")
    for method in ("fifo", "average"):
        _timed(f"layers, {method}", moves, partial(replay, documents, book.materials, method=method))
    _timed("margins of every ticket", moves, lambda: _margins(book, documents), less=lambda: costs_of(book))
    made = _timed("accounts", moves, lambda: accounts(book, PERIOD))
    _timed("workbook file", moves, lambda: _file(made))
    print(f"  peak memory {_peak()} MB")


def _margins(book: Sources, documents: list[Document]) -> int:
    entries = costs_of(book).entries
    books = Books(tickets=book.tickets, jobs=book.jobs, rules=rules_of(book), shop=book.shop)
    work = work_done(documents, entries, books, PERIOD)
    return sum(len(grouped(work.lines, by, floor=book.shop.margin_floor)) for by in ("job", "size", "choice", "month"))


def _file(made: Accounts) -> int:
    with TemporaryDirectory() as folder:
        place = Path(folder) / "accounts.xlsx"
        with place.open("wb") as stream:
            workbook(made, stream)
        return place.stat().st_size


def _timed(what: str, moves: int, run: Callable[[], Result], *, less: Callable[[], object] | None = None) -> Result:
    start = time.process_time()
    made = run()
    spent = time.process_time() - start
    if less is not None:
        start = time.process_time()
        less()
        spent -= time.process_time() - start
    print(f"  {what:26s} {spent:6.2f} s {1000 * spent / moves * 1000:7.1f} ms for a thousand moves")
    return made


def _peak() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else None)
