"""Eight benches at once on one book, with overlapping materials and repeated keys: exact balances, nothing doubled."""

import os
import traceback
from collections.abc import Callable
from pathlib import Path

import pytest

from stockroom.flows.bench import Wanted, finish_at_once
from stockroom.flows.counter import sell, write_off
from stockroom.store import ledger
from stockroom.store.audit import audit
from stockroom.store.book import Book, open_book
from tests import build
from tests.conftest import Maker

PROCESSES = 8
PAPERS = int(os.environ.get("STOCKROOM_PAPERS", "25"))  # each; the benchmark asks for 500
SHARED = 5  # every so many papers carry a key that all processes use


def _work(place: str, bench: int) -> None:
    book = open_book(place)
    for n in range(PAPERS):
        key = f"shared {n}" if n % SHARED == 0 else f"bench {bench} paper {n}"
        stamp = build.stamp("2026-02-03 10:00", key)
        _turns(book, n)(stamp)
    book.close()


def _turns(book: Book, n: int) -> Callable[[object], object]:
    """Choose what a process does at a turn; a shared key means the same paper from everyone."""
    return [
        lambda stamp: sell(book, "POLISH", build.amount("1 piece"), stamp),
        lambda stamp: write_off(book, "THREAD", build.amount("2 m"), stamp),
        lambda stamp: finish_at_once(book, Wanted(job="RESOLE", size=build.size("EU 42")), stamp),
    ][n % 3]


def _in_children(place: str, folder: Path) -> list[str]:
    children = []
    for bench in range(PROCESSES):
        child = os.fork()
        if child == 0:
            try:
                _work(place, bench)
            except BaseException:  # noqa: BLE001 -- whatever it is, the parent must hear of it
                (folder / f"fault-{bench}.txt").write_text(traceback.format_exc(), "utf-8")
            finally:
                os._exit(0)
        children.append(child)
    for child in children:
        os.waitpid(child, 0)
    return [path.read_text("utf-8") for path in folder.glob("fault-*.txt")]


def test_eight_processes_post_exactly_what_they_meant_to(books: Maker, tmp_path: Path) -> None:
    book = books(build.opened)
    place, before = book.place, _balances(book)
    book.close()
    assert _in_children(place, tmp_path) == []
    again = open_book(place)
    with again.reading() as session:
        assert audit(session).faults == ()
        keys = [d.key for d in ledger.read_documents(session, with_moves=False)]
    shared = len(range(0, PAPERS, SHARED))
    assert len(keys) == len(set(keys)) == 1 + shared + PROCESSES * (PAPERS - shared)
    after = _balances(again)
    sold = sum(PROCESSES if n % SHARED else 1 for n in range(0, PAPERS, 3))
    wasted = sum(PROCESSES if n % SHARED else 1 for n in range(1, PAPERS, 3))
    assert before["POLISH"] - after["POLISH"] == sold * build.nano("1 piece")
    assert before["THREAD"] - after["THREAD"] >= wasted * build.nano("2 m")
    again.close()


def _balances(book: Book) -> dict[str, int]:
    with book.reading() as session:
        return ledger.balances(session)


@pytest.mark.parametrize("keys", [1, 3])
def test_the_same_paper_from_everyone_is_posted_once(books: Maker, tmp_path: Path, keys: int) -> None:
    book = books(build.opened)
    place, before = book.place, _balances(book)["POLISH"]
    book.close()
    for _ in range(PROCESSES):
        if os.fork() == 0:
            mine = open_book(place)
            for n in range(keys):
                sell(mine, "POLISH", build.amount("1 piece"), build.stamp("2026-02-03", f"one of {n}"))
            os._exit(0)
    for _ in range(PROCESSES):
        os.wait()
    again = open_book(place)
    assert before - _balances(again)["POLISH"] == keys * build.nano("1 piece")
    again.close()
