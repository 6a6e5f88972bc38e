"""The owner's questions on the invented shop's book, three years of it, in a file and on a server.

Run: python -m tests.benchmarks.asking

Processor seconds of the whole command, interpreter and imports included (of a server's book, our side only), against
importing the libraries it can't do without, which tells machines apart.
"""

import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.benchmarks.run import Figure, in_turn, whole_process
from tests.postgres import Server, ServerMissingError

TIMES = 5
MOMENT = "2026-11-21T18:30:00"
DEMO = 15.0
BARE = [sys.executable, "-c", "import click, sqlalchemy, numpy"]
# What is asked, with the seconds it may take and how many times what the bare libraries do.
ASKED = {
    ("margins", "2026"): (1.2, 4.0),
    ("margins", "--from", "2023-11-21", "--to", "2026-11-21"): (1.5, 5.0),
    ("run-outs",): (1.5, 5.5),
    ("reorder",): (2.0, 7.0),
}


def measure(times: int = TIMES) -> list[Figure]:
    """Build the shop, then ask of its book in both databases."""
    with TemporaryDirectory() as made:
        folder = Path(made) / "shop"
        built = whole_process(_stockroom("demo", str(folder)))
        told = f"{built.cpu:.2f} s"
        figures = [Figure("stockroom demo", told, f"<= {DEMO:g} s", built.cpu <= DEMO, built.megabytes)]
        place = str(folder / "book.sqlite")
        figures += [_asked(words, place, "a file", times) for words in ASKED]
        try:
            server = Server.start()
        except ServerMissingError:
            return figures
        try:
            there = server.create("asking")
            whole_process(_stockroom("copy-book", there), {"STOCKROOM_BOOK": place, "STOCKROOM_NOW": MOMENT})
            return figures + [_asked(words, there, "a server", times) for words in ASKED]
        finally:
            server.stop()


def _asked(words: tuple[str, ...], place: str, where: str, times: int) -> Figure:
    env = {"STOCKROOM_BOOK": place, "STOCKROOM_NOW": MOMENT}
    ours, bare = in_turn(times, (_stockroom(*words), env), (BARE, {}))
    seconds, most = ASKED[words]
    told = f"{ours.cpu:.2f} s, {ours.cpu / bare.cpu:.1f}x ({bare.cpu:.2f} s)"
    met = ours.cpu <= seconds and ours.cpu / bare.cpu <= most
    return Figure(f"{' '.join(words)}, {where}", told, f"<= {seconds:g} s, {most:g}x", met, ours.megabytes)


def _stockroom(*words: str) -> list[str]:
    return [sys.executable, "-m", "stockroom", *words]


if __name__ == "__main__":
    for figure in measure():
        print(figure)
