"""Kill -9 at random moments: each paper is wholly there or wholly not, and the same command can be run again."""

import os
import random
import shutil
import signal
import time
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest

from stockroom.errors import BookError, RefusedError
from stockroom.flows import safekeeping
from stockroom.flows.bench import Wanted, finish_at_once
from stockroom.flows.counter import sell
from stockroom.flows.counting import settle_count, take_count
from stockroom.flows.load_files import load_files
from stockroom.flows.orders import Asked, place_order, receive_order
from stockroom.stock.counts import Count, CountLine
from stockroom.store import ledger
from stockroom.store.audit import audit
from stockroom.store.book import Book, new_book, open_book
from tests import build

KILLS = 35  # of each kind of work: 210 in all
LONGEST = 0.03  # seconds until the kill, at the most; most work takes a few milliseconds
NOW = datetime(2026, 2, 10, 18, 0)

Work = Callable[[Book, int, Path], None]


def finish(book: Book, turn: int, _folder: Path) -> None:
    stamp = build.stamp("2026-02-03 10:00", f"finish {turn}")
    finish_at_once(book, Wanted(job="RESOLE", size=build.size("EU 42"), number=f"K{turn}"), stamp)


def trade(book: Book, turn: int, _folder: Path) -> None:
    sell(book, "POLISH", build.amount("1 piece"), build.stamp("2026-02-04", f"sale {turn}"))


def receive(book: Book, turn: int, _folder: Path) -> None:
    lines = [Asked(material="THREAD", packs=3), Asked(material="FILLER", packs=2)]
    order = place_order(book, "NORTH", lines, build.stamp("2026-02-02", f"order {turn}"))
    receive_order(book, order.number, [], build.stamp("2026-02-06", f"receipt {turn}"))


def count(book: Book, turn: int, _folder: Path) -> None:
    when = build.at(f"2026-02-07 {turn // 60:02d}:{turn % 60:02d}")
    line = CountLine(material="FILLER", amount=build.amount(f"{2000 - turn} g"), counted=when)
    take_count(book, Count(key=f"sheet {turn}", lines=(line,)), build.stamp(when, f"taken {turn}"))
    settle_count(book, f"sheet {turn}", build.stamp(when, f"settled {turn}"))


def load(book: Book, turn: int, folder: Path) -> None:
    path = folder / "sales.csv"
    rows = [f"2026-02-05 {n // 60:02d}:{n % 60:02d},POLISH,1,piece,6.50,R{turn}-{n}" for n in range(60)]
    path.write_text("when,material,amount,unit,price,receipt\n" + "\n".join(rows), "utf-8")
    load_files(book, [path], NOW)


def back_up(book: Book, turn: int, folder: Path) -> None:
    when = NOW.replace(minute=turn % 60, second=turn // 60)
    safekeeping.back_up(book, folder / "backups", when)


def _in_child(place: str, work: Work, turn: int, folder: Path) -> int:
    child = os.fork()
    if child == 0:  # the child ends here whatever happens, without pytest's own clean-up
        try:
            work(open_book(place), turn, folder)
        finally:
            os._exit(0)
    return child


def _documents(book: Book) -> dict[str, int]:
    with book.reading() as session:
        return {d.key: len(d.moves) for d in ledger.read_documents(session)}


@pytest.mark.parametrize("work", [finish, trade, receive, count, load, back_up])
def test_a_killed_program_leaves_every_paper_whole_and_can_be_run_again(
    work: Work, file_shop: Book, tmp_path: Path
) -> None:
    whole = _whole(file_shop, work, tmp_path)
    chance = random.Random(work.__name__)
    for turn in range(KILLS):
        child = _in_child(file_shop.place, work, turn, tmp_path)
        time.sleep(chance.uniform(0, LONGEST))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        book = open_book(file_shop.place)
        with book.reading() as session:
            assert audit(session).faults == ()
        for key, moves in _documents(book).items():
            assert moves == whole.get(key.rstrip("0123456789"), moves), f"{key} is not whole"
        if turn % 7 == 0:
            work(book, turn, tmp_path)
            again = _documents(book)
            work(book, turn, tmp_path) if work is not back_up else None
            assert _documents(book) == again, "done once, however often it is run"
        book.close()


def _whole(book: Book, work: Work, folder: Path) -> dict[str, int]:
    """Do the work once, undisturbed, in a copy: how many moves each of its papers has."""
    place = folder / "undisturbed.sqlite"
    safekeeping.copy_book(book, str(place))
    copy = open_book(str(place))
    before = _documents(copy)
    work(copy, 999, folder)
    after = _documents(copy)
    copy.close()
    shutil.rmtree(folder / "backups", ignore_errors=True)
    return {key.rstrip("0123456789"): moves for key, moves in after.items() if key not in before}


def test_a_start_that_was_killed_can_be_run_again(tmp_path: Path) -> None:
    chance = random.Random("migrate")
    for turn in range(KILLS):
        place = str(tmp_path / f"new-{turn}.sqlite")
        child = os.fork()
        if child == 0:
            try:
                new_book(place)
            finally:
                os._exit(0)
        time.sleep(chance.uniform(0, 8 * LONGEST))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        book = _begun(place)
        with book.reading() as session:
            assert audit(session).faults == ()
        build.opened(book)
        book.close()


def _begun(place: str) -> Book:
    """Open the book if it was wholly made, or make it: nothing in between may be left."""
    try:
        return open_book(place)
    except BookError:
        return new_book(place)


def test_a_file_that_is_something_else_is_never_taken_for_a_start(tmp_path: Path) -> None:
    letter = tmp_path / "letter.sqlite"
    letter.write_text("Dear customer, your boots are ready. " * 40, "utf-8")
    with pytest.raises(RefusedError, match="exists already"):
        new_book(str(letter))
    assert letter.read_text("utf-8").startswith("Dear customer")
