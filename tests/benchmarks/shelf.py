"""What the demo and the everyday lists cost as whole commands on the invented shop, in a file and on a server.

Run: python -m tests.benchmarks.shelf

Seconds are of the processor, of this machine and this hour; so each command also alternates with a yardstick that knows
no shop: starting Python with the libraries the orders stand on. That ratio is what one state of the code can be
compared by with another.
"""

import sys
from contextlib import closing
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.benchmarks.run import Figure, Ran, in_turn, whole_process
from tests.end_to_end.shop import DATA, EVENING
from tests.postgres import Server, ServerMissingError

WANTED = {"shelf": 1.0, "run-outs": 1.5, "reorder": 2.0, "margins": 1.2}  # seconds of processor time
DEMO = 15.0
TIMES = 3
YARDSTICK = [sys.executable, "-c", "import click, sqlalchemy, numpy, scipy.optimize"]


def measure(times: int = TIMES) -> list[Figure]:
    """Load the invented shop, then ask for each list in turn; last, the whole demo."""
    with TemporaryDirectory() as made:
        found = _lists(str(Path(made) / "book.sqlite"), "in a file", times)
        found += _on_a_server(times)
        words = [sys.executable, "-m", "stockroom", "demo", str(Path(made) / "demo")]
        demo, bare = whole_process(words), whole_process(YARDSTICK)
    return [*found, _figure("demo", "from nothing", demo, bare)]


def _on_a_server(times: int) -> list[Figure]:
    try:
        server = Server.start()
    except ServerMissingError:
        return []
    try:
        return _lists(server.create("shop"), "on a server", times)
    finally:
        server.stop()


def _lists(place: str, where: str, times: int) -> list[Figure]:
    from stockroom.flows.book.opening import new_book
    from stockroom.flows.loading.load import load_files

    with closing(new_book(place)) as book:
        load_files(book, [DATA], datetime.fromisoformat(EVENING))
    env = {"STOCKROOM_BOOK": place, "STOCKROOM_NOW": EVENING}
    commands = [([sys.executable, "-m", "stockroom", name], env) for name in WANTED]
    *runs, bare = in_turn(times, *commands, (YARDSTICK, {}))
    return [_figure(name, where, ran, bare) for name, ran in zip(WANTED, runs, strict=True)]


def _figure(name: str, where: str, ran: Ran, bare: Ran) -> Figure:
    told = f"{ran.cpu:.2f} s of processor time, {ran.cpu / bare.cpu:.1f}x the bare libraries"
    most = WANTED.get(name, DEMO)
    return Figure(
        f"stockroom {name}, the invented shop {where}", told, f"<= {most:g} s", ran.cpu <= most, ran.megabytes
    )


if __name__ == "__main__":
    for figure in measure():
        print(figure)
