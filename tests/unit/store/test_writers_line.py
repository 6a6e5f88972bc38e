"""Whoever came first writes first; who died is waited for no longer; a document that waited is entered in its turn."""

import os
import signal
import threading
import time
from contextlib import ExitStack
from datetime import timedelta
from pathlib import Path

import pytest

from stockroom.flows.bench.counter import sell
from stockroom.flows.book.check import check
from stockroom.store.book import PATIENCE, Book
from stockroom.store.writers_line import in_line
from tests import build


def test_writers_go_in_the_order_they_came(tmp_path: Path) -> None:
    place, went = str(tmp_path / "book.sqlite"), []

    def write(number: int) -> None:
        with in_line(place, 10):
            went.append(number)

    with ExitStack() as first:
        first.enter_context(in_line(place, 10))
        hands = [threading.Thread(target=write, args=(n,)) for n in range(8)]
        for hand in hands:
            hand.start()
            time.sleep(0.02)
        assert went == []
    for hand in hands:
        hand.join(10)
    assert went == list(range(8))


def test_who_died_in_the_line_holds_nobody_up(tmp_path: Path) -> None:
    place = str(tmp_path / "book.sqlite")
    reading, writing = os.pipe()
    if (child := os.fork()) == 0:
        with in_line(place, 10):
            os.write(writing, b".")
            time.sleep(60)
    os.read(reading, 1)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    began = time.monotonic()
    with in_line(place, 10):
        assert time.monotonic() - began < 1
    os.close(reading)
    os.close(writing)


def test_nobody_waits_longer_than_patience_lasts(tmp_path: Path) -> None:
    place = str(tmp_path / "book.sqlite")
    with in_line(place, 10), in_line(place, 0.05):
        pass


@pytest.mark.parametrize(("late", "set_back"), [(1, False), (PATIENCE, False), (PATIENCE + 2, True), (86_400, True)])
def test_who_waited_is_entered_in_turn_and_a_clock_set_back_is_seen(file_shop: Book, late: int, set_back: bool) -> None:
    now = build.at("2026-02-03 10:00")
    sell(file_shop, "POLISH", build.amount("1 piece"), build.stamp(now))
    earlier = now - timedelta(seconds=late)
    sell(file_shop, "POLISH", build.amount("1 piece"), build.stamp(earlier, entered=earlier))
    found = check(file_shop)
    assert (found.faults, bool(found.cautions)) == ((), set_back)
