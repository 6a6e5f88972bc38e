"""How long the accountant's files take from a real book of 200,000 moves: each command in a process of its own.

Run: python -m tests.benchmarks.accounts_book [documents]. Asked: the workbook within 30 s and 600 MB.
"""

import os
import resource
import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

from stockroom.flows.book.opening import new_book, open_book
from stockroom.store import catalogue, ledger, tickets
from tests.unit.margins.book import sources, year_of_documents

DOCUMENTS = 102_500  # 200,000 moves in two years
_SLICE = 10_000
COMMANDS = (
    ("margins", "--from", "2025-01-01", "--to", "2026-12-31", "--by", "choice"),
    ("margin-changes", "2026"),
    ("close-period", "2025"),
    ("workbook", "--from", "2025-01-01", "--to", "2026-12-31", "--into"),
)


def main(documents: int) -> None:
    """Fill a book and time each command."""
    with TemporaryDirectory() as folder:
        place = Path(folder) / "book.sqlite"
        # In a process of its own: Linux hands a new one the peak memory of the one it was forked from.
        filling = [sys.executable, "-m", "tests.benchmarks.accounts_book", str(documents), str(place)]
        print(subprocess.run(filling, check=True, capture_output=True, text=True).stdout.strip())
        for words in COMMANDS:
            given = [*words, str(Path(folder) / "made")] if words[-1] == "--into" else list(words)
            _run(given, place)


def fill(place: Path, count: int) -> int:
    """Write the documents straight into the ledger; give the number of moves."""
    documents = year_of_documents(count)
    made = sources(documents)
    book = new_book(str(place))
    with book.writing() as session:
        catalogue.save_materials(session, list(made.materials.values()))
        catalogue.save_jobs(session, list(made.jobs.values()))
        tickets.save_tickets(session, list(made.tickets.values()))
    for first in range(0, len(documents), _SLICE):
        with book.writing() as session:
            ledger.append(session, documents[first : first + _SLICE])
    book.close()
    open_book(str(place)).close()
    return sum(len(document.moves) for document in documents)


def _run(words: list[str], place: Path) -> None:
    around = os.environ | {"STOCKROOM_BOOK": str(place), "STOCKROOM_NOW": "2027-01-05T10:00:00"}
    start, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, "-m", "stockroom", *words], env=around, check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    print(f"  {words[0]:14s} {time.perf_counter() - start:6.1f} s ({spent:5.1f} s of processor)", end="")
    print(f", most memory so far {after.ru_maxrss // 1024} MB")


if __name__ == "__main__":
    if len(sys.argv) > 2:
        print(f"{fill(Path(sys.argv[2]), int(sys.argv[1])):,} moves")
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else DOCUMENTS)
