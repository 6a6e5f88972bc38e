"""How fast past jobs load: rows a second through reading, checking, recipes, ledger and chain, on SQLite.

Run: python -m tests.benchmarks.importing [rows]
"""

import sys
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.benchmarks.run import Figure, in_child
from tests.end_to_end.shop import small_shop

ROWS = 20_000
WANTED = 5_000  # rows a second
ENTERED = datetime(2026, 11, 24, 10, 0)


def write_jobs(folder: Path, rows: int) -> Path:
    """Write finished tickets, two jobs in turn, half of them sized: three moves and two."""
    path = folder / "past-jobs.csv"
    first = datetime(2026, 2, 18, 9, 0)
    with path.open("w", encoding="utf-8") as opened:
        opened.write("ticket,taken in,finished,job,size,choices\n")
        for n in range(rows):
            day = first + timedelta(days=n * 270 // rows, minutes=n % 400)
            job = f"FULL,EU {36 + n % 12},sole=bend" if n % 2 else "HEEL-L,,"
            opened.write(f"{n + 5001},{day:%Y-%m-%d %H:%M},{day + timedelta(hours=1):%Y-%m-%d %H:%M},{job}\n")
    return path


LOADING = """
from datetime import datetime
from stockroom.flows.book.opening import open_book
from stockroom.flows.loading.load import load_files
import stockroom.intake.load
book = open_book({book!r})
start()
report = load_files(book, [{path!r}], datetime(2026, 11, 24, 10, 0))
stop()
assert report.documents == {rows}, report
"""


def measure(rows: int = ROWS) -> list[Figure]:
    """Load once in a process of its own; a second load would find everything there."""
    from stockroom.flows.book.opening import new_book
    from stockroom.flows.loading.load import load_files

    with TemporaryDirectory() as made:
        folder = Path(made)
        book = new_book(str(folder / "book.sqlite"))
        load_files(book, [small_shop(folder / "files", history=False)], ENTERED)
        book.close()
        path = write_jobs(folder, rows)
        ran = in_child(LOADING.format(book=book.place, path=str(path), rows=rows))
    return [
        Figure(
            name=f"load {rows:,} past jobs",
            got=f"{rows / ran.cpu:,.0f} rows/s of processor time ({rows / ran.wall:,.0f} by the clock)",
            wanted=f">= {WANTED:,}",
            met=rows / ran.cpu >= WANTED,
            megabytes=ran.megabytes,
        )
    ]


if __name__ == "__main__":
    for figure in measure(int(sys.argv[1]) if len(sys.argv) > 1 else ROWS):
        print(figure)
