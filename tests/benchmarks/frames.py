"""What the public face costs: a frame of 200,000 moves against the bare rows, and importing it against nothing.

Run: python -m tests.benchmarks.frames
"""

import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.benchmarks.big_book import fill
from tests.benchmarks.run import Figure, Ran, in_child, in_turn, middle, ratio
from tests.benchmarks.startup import stocked

MOVES = 200_000
TIMES = 5

_OURS = """
import stockroom
book = stockroom.open({place!r})
book.shelf()
start()
frame = book.moves()
stop()
"""
_PLAIN = """
import pandas, sqlalchemy
session = sqlalchemy.create_engine({url!r}).connect()
pandas.read_sql("SELECT * FROM document LIMIT 1", session)
start()
frame = pandas.read_sql("SELECT * FROM move ORDER BY document, line", session)
stop()
"""


def measure(moves: int = MOVES, times: int = TIMES) -> list[Figure]:
    """Compare the frame of all moves with pandas' own reading of their rows, and the import with a bare interpreter."""
    with TemporaryDirectory() as made:
        place = stocked(Path(made))
        fill(place, moves)
        ours, plain = _read(place, times)
    importing = in_turn(times * 2, ([sys.executable, "-c", "import stockroom"], {}), ([sys.executable, "-c", ""], {}))
    memory = ours.megabytes / plain.megabytes
    told = f"{memory:.2f}x ({ours.megabytes:.0f} MB against {plain.megabytes:.0f} MB)"
    return [
        ratio(f"book.moves() of {moves:,} moves against read_sql of the rows", (ours, plain), 1.5),
        Figure("the same, peak memory of the process", told, "<= 1.2x", memory <= 1.2, ours.megabytes),
        ratio("import stockroom against an interpreter that does nothing", importing, 1.3),
    ]


def _read(place: Path, times: int) -> tuple[Ran, Ran]:
    bodies = _OURS.format(place=str(place)), _PLAIN.format(url=f"sqlite:///{place}")
    runs = [[in_child(body) for body in bodies] for _ in range(times)]
    ours, plain = (middle([pair[side] for pair in runs]) for side in (0, 1))
    return ours, plain


if __name__ == "__main__":
    for figure in measure():
        print(figure)
