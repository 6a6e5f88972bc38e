"""Long work beside the pages: one thing at a time, with progress; results held against the book's state."""

import threading
import time

import pytest

from stockroom.errors import BadFileError, Problem, RefusedError
from stockroom.flows.book.opening import change_settings
from stockroom.web.background import Beside, Told
from stockroom.web.result_cache import Keeper
from stockroom.web.site import Site
from tests.unit.web.conftest import NOON

PATIENCE = 10.0


def until(beside: Beside, name: str, state: str) -> None:
    deadline = time.monotonic() + PATIENCE
    while time.monotonic() < deadline:
        task = beside.task(name)
        if task is not None and task.state == state:
            return
        time.sleep(0.01)
    pytest.fail(f"{name} never came to be {state}: {beside.task(name)}")


def test_work_tells_how_far_it_is_and_ends() -> None:
    beside, go_on = Beside(), threading.Event()

    def work(told: Told) -> str:
        told("rows", 5, 10)
        go_on.wait(PATIENCE)
        return "ready"

    assert beside.start("load", work)
    until(beside, "load", "running")
    deadline = time.monotonic() + PATIENCE
    while (task := beside.task("load")) and not task.done and time.monotonic() < deadline:
        time.sleep(0.01)
    assert task is not None
    assert (task.what, task.done, task.of) == ("rows", 5, 10)
    assert not beside.start("load", work)  # the same work is not started twice
    go_on.set()
    until(beside, "load", "done")
    done = beside.task("load")
    assert done is not None
    assert done.result == "ready"


def test_a_fault_a_person_can_mend_is_said_with_every_row() -> None:
    beside = Beside(threaded=False)

    def work(_told: Told) -> None:
        raise BadFileError([Problem(what="is no number", file="jobs.csv", row=3)])

    beside.start("load", work)
    task = beside.task("load")
    assert task is not None
    assert task.state == "failed"
    assert "nothing was loaded" in task.fault
    assert task.faults == ("jobs.csv, row 3: is no number.",)


def test_a_fault_of_the_program_does_not_end_the_worker(capsys: pytest.CaptureFixture[str]) -> None:
    beside = Beside()
    beside.start("wrong", lambda _told: 1 / 0)
    until(beside, "wrong", "failed")
    beside.start("right", lambda _told: None)
    until(beside, "right", "done")
    assert "ZeroDivisionError" in capsys.readouterr().err


def test_a_result_holds_until_the_book_moves_on(site: Site) -> None:
    keeper, made = Keeper(site.book, Beside(threaded=False)), []

    def work(_told: Told) -> int:
        made.append(1)
        return len(made)

    assert keeper.look("x", NOON, work).result == 1
    assert keeper.look("x", NOON, work).result == 1
    change_settings(site.book, {"holding_rate": "25"})
    assert keeper.look("x", NOON, work).result == 2
    assert keeper.look("x", NOON.replace(day=7), work).result == 3  # another day


def test_what_fails_is_tried_again_only_once_the_book_moves_on(site: Site) -> None:
    keeper, tried = Keeper(site.book, Beside(threaded=False)), []

    def work(_told: Told) -> None:
        tried.append(1)
        raise RefusedError("No past.", fix="Load it.")

    for _ in range(3):
        assert keeper.look("x", NOON, work).fault == "No past. Load it."
    assert len(tried) == 1


def test_only_so_many_results_are_kept(site: Site) -> None:
    keeper = Keeper(site.book, Beside(threaded=False))
    for n in range(30):
        keeper.look(f"period {n}", NOON, lambda _told: b"x" * 1000)
    assert len(keeper.held) <= 12


def test_what_ended_long_ago_is_let_go() -> None:
    """A result may be a whole workbook: a year of them must not be held."""
    beside = Beside(threaded=False)
    for n in range(40):
        beside.start(f"work {n}", lambda _told: b"a workbook")
    there = [n for n in range(40) if beside.task(f"work {n}") is not None]
    assert there == list(range(40 - len(there), 40))
    assert 12 <= len(there) <= 13
