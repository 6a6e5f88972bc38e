"""How many functions and files of ours four everyday journeys pass through, and how often they call.

Run: python -m tests.benchmarks.journeys

Counted by `sys.setprofile` inside the package only; what libraries do is theirs. A function only passes on if all it
does is one call of another function of ours, or giving what an attribute or a name holds. The journeys are walked on the small
shop's year (a finish, a settled count, a page's finish) and its order list. To compare with another state of the code,
run this file with that state first on PYTHONPATH.
"""

import ast
import os
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from functools import cache
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


@cache
def passing_on(file: str, names: frozenset[str]) -> frozenset[str]:
    """Give the functions of a file whose whole body is one call of a function of that name, or one look-up."""
    found: set[str] = set()

    def look(node: ast.AST, within: str) -> None:
        for each in ast.iter_child_nodes(node):
            if isinstance(each, ast.FunctionDef):
                if _only_passes_on(each, names):
                    found.add(within + each.name)
                look(each, f"{within}{each.name}.<locals>.")
            elif isinstance(each, ast.ClassDef):
                look(each, f"{within}{each.name}.")

    look(ast.parse(Path(file).read_text(encoding="utf-8")), "")
    return frozenset(found)


def _only_passes_on(function: ast.FunctionDef, names: frozenset[str]) -> bool:
    body = function.body[1:] if ast.get_docstring(function) else function.body
    body = [each for each in body if not isinstance(each, ast.ImportFrom)]
    if len(body) != 1 or not isinstance(body[0], ast.Return | ast.Expr):
        return False
    said = body[0].value
    while isinstance(said, ast.Subscript):
        said = said.value
    if isinstance(said, ast.Call):
        called = said.func
        name = called.attr if isinstance(called, ast.Attribute) else called.id if isinstance(called, ast.Name) else ""
        return name in names
    return isinstance(said, ast.Attribute | ast.Name)


def main() -> None:
    """Print the table."""
    os.environ["STOCKROOM_NOW"] = MORNING
    with TemporaryDirectory() as made:
        found = measure(Path(made))
    for name, hops in found.items():
        files = {file for file, _ in hops}
        ours = frozenset(function.rpartition(".")[2] for _, function in hops)
        through = sum(function in passing_on(file, ours) for file, function in hops)
        print(
            f"{name:<18}{len(hops):>5} functions in{len(files):>4} files{sum(hops.values()):>9,} calls;"
            f"{through:>4} only pass on"
        )


if __name__ == "__main__":
    main()
