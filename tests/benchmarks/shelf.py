"""What the demo and the everyday lists cost as whole commands on the invented shop.

Run: python -m tests.benchmarks.shelf
"""

import sys
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.benchmarks.run import Figure, Ran, in_turn, whole_process
from tests.end_to_end.shop import DATA, EVENING

WANTED = {"shelf": 1.0, "run-outs": 4.0, "reorder": 5.0}  # seconds of processor time
DEMO = 20.0
TIMES = 3


def measure(times: int = TIMES) -> list[Figure]:
    """Load the invented shop, then ask for each list in turn."""
    from stockroom.flows.book.opening import new_book
    from stockroom.flows.loading.load import load_files

    with TemporaryDirectory() as made:
        book = new_book(str(Path(made) / "book.sqlite"))
        load_files(book, [DATA], datetime.fromisoformat(EVENING))
        book.close()
        env = {"STOCKROOM_BOOK": book.place, "STOCKROOM_NOW": EVENING}
        commands = [([sys.executable, "-m", "stockroom", name], env) for name in WANTED]
        runs = dict(zip(WANTED, in_turn(times, *commands), strict=True))
        demo = whole_process([sys.executable, "-m", "stockroom", "demo", str(Path(made) / "demo")])
    return [_figure(name, ran) for name, ran in [*runs.items(), ("demo", demo)]]


def _figure(name: str, ran: Ran) -> Figure:
    told = f"{ran.cpu:.2f} s of processor time ({ran.wall:.2f} s by the clock)"
    most = WANTED.get(name, DEMO)
    return Figure(f"stockroom {name}, the invented shop", told, f"<= {most:g} s", ran.cpu <= most, ran.megabytes)


if __name__ == "__main__":
    for figure in measure():
        print(figure)
