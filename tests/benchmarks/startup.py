"""What a command costs before it does its work, against the bare libraries it stands on.

Run: python -m tests.benchmarks.startup
"""

import shutil
import sys
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.benchmarks.run import Figure, in_turn, ratio
from tests.end_to_end.shop import MORNING, small_shop

TIMES = 15


def measure(times: int = TIMES) -> list[Figure]:
    """Compare `--help` with importing click, and finishing a job with importing click and sqlalchemy."""
    with TemporaryDirectory() as made:
        place = stocked(Path(made))
        return [_help(times), finishing("finish a job from the shell", place, times)]


def stocked(folder: Path) -> Path:
    """Make a book with the small shop's catalogue and opening stock."""
    from stockroom.flows.book.opening import new_book
    from stockroom.flows.loading.load import load_files

    book = new_book(str(folder / "book.sqlite"))
    load_files(book, [small_shop(folder / "files", history=False)], datetime.fromisoformat(MORNING))
    book.close()
    return Path(book.place)


def finishing(name: str, place: Path, times: int) -> Figure:
    """Finish a job from the shell, on a copy, against importing the two libraries under it."""
    copy = Path(shutil.copy(place, place.with_name("finishing.sqlite")))
    env = {"STOCKROOM_BOOK": str(copy), "STOCKROOM_NOW": MORNING}
    bare = [sys.executable, "-c", "import click, sqlalchemy"]
    return ratio(name, in_turn(times, (_stockroom("finish", "heel"), env), (bare, {})), 1.6)


def _help(times: int) -> Figure:
    bare = [sys.executable, "-c", "import click"]
    return ratio("stockroom --help", in_turn(times, (_stockroom("--help"), {}), (bare, {})), 2.0)


def _stockroom(*words: str) -> list[str]:
    """Start it as installed: by the script beside the interpreter."""
    return [str(Path(sys.executable).with_name("stockroom")), *words]


if __name__ == "__main__":
    for figure in measure():
        print(figure)
