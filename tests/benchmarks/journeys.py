"""How many functions and files of ours four everyday journeys pass through, and how often they call.

Run: python -m tests.benchmarks.journeys

Counted by `sys.setprofile` inside the package only; what libraries do is theirs. The journeys are walked on the small
shop's year (a finish, a settled count, a page's finish) and its order list. To compare with another state of the code,
run this file with that state first on PYTHONPATH.
"""

import os
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from types import FrameType

from tests.end_to_end.shop import MORNING, Indoors, small_shop

NOW = datetime.fromisoformat(MORNING)
Hops = Counter[tuple[str, str]]  # calls by file and function


def measure(folder: Path) -> dict[str, Hops]:
    """Walk the journeys, each after it was walked once to load what is loaded once."""
    import stockroom

    home = str(Path(stockroom.__file__).parent)
    desk = Indoors(folder / "book.sqlite")
    desk.says("new-book")
    desk.says("load", str(small_shop(folder / "files")))
    for number in ("T1", "T2"):
        desk.says("take-in", "FULL", "--size", "EU 42", "--number", number)
    for sheet, counted_bin in (("S1", "TOP-PIN=14 pair"), ("S2", "BEND=48 dm2")):
        desk.says("count", counted_bin, "--sheet", sheet)
    page = _page(desk)
    journeys: dict[str, tuple[Callable[[], object], Callable[[], object]]] = {
        "finish": (lambda: desk.says("finish", "T1"), lambda: desk.says("finish", "T2")),
        "settle": (
            lambda: desk.says("settle", "S2", "--confirmed"),
            lambda: desk.says("settle", "S1", "--confirmed"),
        ),
        "reorder": (lambda: desk.says("reorder"), lambda: desk.says("reorder")),
        "a page's finish": (page, page),
    }
    found = {}
    for name, (first, again) in journeys.items():
        first()
        with counted(home) as hops:
            again()
        found[name] = hops
    return found


@contextmanager
def counted(home: str) -> Iterator[Hops]:
    """Count the calls of functions defined under a folder."""
    hops: Hops = Counter()

    def met(frame: FrameType, event: str, _: object) -> None:
        code = frame.f_code
        if event == "call" and code.co_filename.startswith(home):
            hops[code.co_filename, code.co_qualname] += 1

    sys.setprofile(met)
    try:
        yield hops
    finally:
        sys.setprofile(None)


def _page(desk: Indoors) -> Callable[[], object]:
    """Give the finish of a job that was never taken in, sent from its page."""
    from stockroom.flows.book.opening import open_book
    from stockroom.web.app import make_app
    from stockroom.web.server import LOOPBACK, make_site
    from tests.unit.web.conftest import Asleep, Visitor

    site = replace(make_site(open_book(str(desk.place)), LOOPBACK, Asleep()), now=lambda: NOW)
    visitor = Visitor(make_app(site).test_client())
    visitor.get("/jobs/card?job=HEEL-L")
    return lambda: visitor.post("/tickets/finish-job", job="HEEL-L", **{"choice:top": "pin"})


def main() -> None:
    """Print the table."""
    os.environ["STOCKROOM_NOW"] = MORNING
    with TemporaryDirectory() as made:
        found = measure(Path(made))
    for name, hops in found.items():
        files = {file for file, _ in hops}
        print(f"{name:<18}{len(hops):>5} functions in{len(files):>4} files{sum(hops.values()):>9,} calls")


if __name__ == "__main__":
    main()
