"""A book of a million moves, made once: the shelf and a finished job on it, against a book of ten thousand.

Run: python -m tests.benchmarks.big_book
"""

import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from stockroom.flows.book.opening import open_book
from stockroom.stock.moves import Document, DocumentKind, Move, MoveKind
from stockroom.store import ledger
from tests.benchmarks.run import Figure, in_turn, ratio
from tests.benchmarks.startup import finishing, stocked
from tests.end_to_end.shop import MORNING, OPENING

SMALL, LARGE = 10_000, 1_000_000
MOVES = 10  # a document
START = datetime(2017, 1, 3, 9, 0)
TIMES = 7


def measure(moves: int = LARGE, times: int = TIMES) -> list[Figure]:
    """Compare the two books."""
    with two_books(moves) as (small, large):
        return [
            _shelf("shelf", (), small, large, times),
            _shelf("shelf as of a day two years back", ("--as-of", "2024-11-20"), small, large, times),
            finishing(f"finish a job, book of {moves:,} moves", large, times),
        ]


@contextmanager
def two_books(moves: int) -> Iterator[tuple[Path, Path]]:
    """Make the small shop's book twice, with few moves and with as many as asked."""
    with TemporaryDirectory() as made:
        folder = Path(made)
        small = stocked(folder)
        large = Path(shutil.copy(small, folder / "large.sqlite"))
        fill(small, SMALL)
        fill(large, moves)
        yield small, large


def fill(place: Path, moves: int) -> None:
    """Enter ten years of moves of every material, ten to a document, straight into the ledger."""
    codes = list(OPENING)
    book = open_book(str(place))
    minutes = timedelta(days=3600) / moves
    for first in range(0, moves, 20_000):
        documents = []
        for at in range(first, min(first + 20_000, moves), MOVES):
            when = (START + at * minutes).replace(microsecond=0)
            lines = [
                Move(material=codes[n % len(codes)], nano=-(n + 1) * 10**6, kind=MoveKind.JOB_USE, happened=when)
                for n in range(at, at + MOVES)
            ]
            document = Document(
                kind=DocumentKind.FINISH, key=f"old:{at}", happened=when, entered=when, moves=tuple(lines)
            )
            documents.append(document)
        with book.writing() as session:
            ledger.append(session, documents)
    book.close()


def _shelf(name: str, words: tuple[str, ...], small: Path, large: Path, times: int) -> Figure:
    command = [sys.executable, "-m", "stockroom", "shelf", *words]
    sides = [(command, {"STOCKROOM_BOOK": str(place), "STOCKROOM_NOW": MORNING}) for place in (large, small)]
    return ratio(f"{name}, a million moves against ten thousand", in_turn(times, *sides), 2.0)


if __name__ == "__main__":
    for figure in measure():
        print(figure)
